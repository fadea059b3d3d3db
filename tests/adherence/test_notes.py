"""Bad input: each is said, nothing is dropped in silence."""

from datetime import UTC, datetime

import pytest

from planner.adherence.as_json import document
from planner.adherence.compare import compare
from planner.adherence.words import summary_words


def judged(by_hand, *visits, schedule="plan"):
    plan = by_hand.schedule if schedule == "plan" else schedule
    return compare(by_hand.study, plan, by_hand.happened_of(*visits))


def kinds(found):
    return [note.kind for note in found.notes]


def adds_up(found):
    counts = found.counts
    return counts.recorded == counts.matched + counts.extra + counts.refused


def test_an_effort_that_begins_before_the_last_can_have_ended(by_hand):
    visit = by_hand.kept()
    visit.efforts["ready", 300, "fvc"][1] = by_hand.at(12, 5)
    found = judged(by_hand, visit)
    assert kinds(found) == ["impossible time"]
    assert "effort 2 begins 15 s before" in found.notes[0].words
    assert adds_up(found)


def test_a_step_that_ends_before_it_starts(by_hand):
    visit = by_hand.kept()
    visit.marks["sit", "end"] = by_hand.at(59)
    found = judged(by_hand, visit)
    assert kinds(found) == ["impossible time"]


def test_a_block_that_the_protocol_does_not_have(by_hand):
    visit = by_hand.kept()
    visit.block("after", 1800, "mep", by_hand.at(70), 2, 40)
    visit.block("after", 60, "sniff", by_hand.at(75), 1, 40)
    found = judged(by_hand, visit)
    assert kinds(found) == ["unknown block", "unknown block"]
    assert found.counts == (22, 25, 22, 0, 3, 0)
    assert adds_up(found)


def test_a_visit_that_the_study_does_not_ask_for(by_hand):
    found = judged(by_hand, by_hand.kept(), by_hand.kept("ROW-99"))
    assert kinds(found) == ["unknown visit"]
    assert found.counts == (22, 44, 22, 0, 0, 22)
    assert adds_up(found)


def test_efforts_before_the_planned_day_and_after_midnight(by_hand):
    visit = by_hand.kept()
    visit.efforts["after", 900, "mep"][2] = by_hand.at(16 * 60)
    found = judged(by_hand, visit)
    assert kinds(found) == ["after midnight"]
    visit = by_hand.kept(start=by_hand.days(-1))
    found = judged(by_hand, visit)
    assert kinds(found) == ["before the visit"]
    assert found.notes[0].words.startswith("22 efforts before the planned day, the first ready, 5 min, fvc")
    assert [d.kind for d in found.deviations] == ["other day"]
    assert {line.off_s for line in found.efforts} == {-86400}
    assert adds_up(found)


@pytest.mark.parametrize("minutes", [20, 30])
def test_lengths_over_a_change_of_clocks_are_real_seconds(by_hand, minutes):
    """Halifax, 14 March 2027: 02:00 becomes 03:00. Rowing ends before it, the measures follow after it."""
    start = datetime(2027, 3, 14, 1, minutes, tzinfo=by_hand.start.tzinfo)
    plan = by_hand.schedule_of(by_hand.placed("ROW-01", 1, "mild air", start))
    found = judged(by_hand, by_hand.kept(start=start), schedule=plan)
    assert [d.kind for d in found.deviations] == []
    assert {p.kept for p in found.time_points} == {"on time"}
    assert {line.off_s for line in found.efforts} == {0}
    assert kinds(found) == ["change of clocks"]


def test_half_a_visit(by_hand):
    visit = by_hand.kept()
    for label in [label for label in visit.efforts if label[0] == "after"]:
        del visit.efforts[label]
    found = judged(by_hand, visit)
    assert kinds(found) == ["half a visit"]
    assert "after “row, 15 min, mep”: 4 measures have none" in found.notes[0].words


def test_one_measure_without_a_record_is_one(by_hand):
    visit = by_hand.kept()
    del visit.efforts[list(visit.efforts)[-1]]
    assert "1 measure has none" in judged(by_hand, visit).notes[0].words


def test_a_plan_made_after_the_visit_began(by_hand):
    made = datetime(2027, 3, 1, 14, 0, tzinfo=UTC)
    plan = by_hand.replace(by_hand.schedule, made=made)
    found = judged(by_hand, by_hand.kept(), schedule=plan)
    assert kinds(found) == ["plan made later"]


def test_an_empty_record_is_no_fault(by_hand):
    found = judged(by_hand)
    assert document(found)["summary"]["time_points"]["share"] is None
    assert document(found)["summary"]["time_points"]["low"] is None
    assert "none to judge" in summary_words(found)


def test_many_notes_are_counted_in_words(by_hand):
    others = [by_hand.kept(f"ROW-{n}") for n in range(50, 75)]
    words = summary_words(judged(by_hand, by_hand.kept(), *others))
    assert words.count("unknown visit: ROW-") == 20
    assert words.endswith("and 5 notes more")
