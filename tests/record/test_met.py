"""Which visits something is recorded of."""

from __future__ import annotations

from planner.record.effort import VisitKey
from planner.record.events import Content, Draft, Kind
from planner.record.happenings import newest
from planner.record.met import met

PLACES = [("ROW-01", "practice", None), ("ROW-01", "rowing", 1), ("ROW-01", "rowing", 2)]


def test_a_visit_is_met_once_a_line_of_it_stands(store, take, two_efforts):
    assert met(store, PLACES) == set()
    store.append([Draft(Kind.NOTE, participant="ROW-01", visit="practice", content=Content(note="late"))])
    assert met(store, PLACES) == set()
    take(store, two_efforts)
    assert met(store, PLACES) == {("ROW-01", "rowing", 1)}
    welcomed = "ROW-01,practice,welcome,,,,2027-03-01T08:00:00,start,,,,\n"
    take(store, two_efforts.partition("\n")[0] + "\n" + welcomed)
    assert met(store, PLACES) == set(PLACES[:2])


def test_more_visits_than_are_asked_about_at_once(store, take, two_efforts):
    take(store, two_efforts)
    many = [(f"X-{n}", "rowing", n) for n in range(100)]
    assert met(store, [*many, *PLACES, *many]) == {("ROW-01", "rowing", 1)}
    assert met(store, []) == set()


def test_news_of_a_visit_is_its_own_last_event(store, take, two_efforts):
    key = VisitKey("ROW-01", "rowing", 1)
    assert newest(store, key) == ""
    take(store, two_efforts)
    seen = newest(store, key)
    take(store, two_efforts.replace("ROW-01", "ROW-02"))
    assert newest(store, key) == seen != ""
    store.append(
        [Draft(Kind.NOTE, participant="ROW-01", visit="rowing", number=1, content=Content(note="a"))]
    )
    assert newest(store, key) not in ("", seen)
