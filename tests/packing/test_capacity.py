"""Places a day with other numbers of rigs and people: small laboratories by hand, or by trying all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.packing.budget import Budget
from planner.packing.capacity import Count, _made_up, capacity
from planner.packing.capacity_lines import Capacity, Line, Table
from planner.packing.capacity_variants import kinds_of, like_days, variants
from planner.packing.progress import Progress
from planner.schedule.model import Outcome, Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

SMALL = Path(__file__).parents[1] / "data" / "small"
STUDY = """
format: 1
name: counted
time_zone: Europe/Oslo
visits: [{id: only, protocol: visit.yaml}]
at_most_waiting: 0 s
days: {from: 2027-03-01, to: 2027-03-03, open: {mon: "08:00-10:00", tue: "08:00-10:00", wed: "08:00-09:00"}}
rigs: {bench: [R1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
"""
HEAD = 'format: 1\nname: visit\ntitle: Visit\nversion: "1"\nvisit:'
ONE = "\n  - {id: task, title: Task, takes: 40 min, rig: bench, staff: operator}\n"
TWICE = """
  - {id: first, title: First, takes: 20 min, rig: bench, staff: operator}
  - {id: sit, title: Sit, rest: 10 min}
  - {id: again, title: Again, takes: 20 min, rig: bench}
"""


@pytest.fixture
def laboratory(tmp_path: Path) -> Callable[..., Study]:
    """A function that makes a laboratory with one bench and one operator."""

    def make(visit: str = ONE, breaks: str = "", study: str = STUDY) -> Study:
        for name, text in {
            "visit.yaml": HEAD + visit,
            "study.yaml": study,
            "staff.csv": "person,roles\nK1,operator\n",
            "shifts.csv": f"person,days,from,to,breaks\nK1,mon-fri,08:00,10:00,{breaks}\n",
            "participants.csv": "participant\nP1\n",
        }.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        return read_study(tmp_path)

    return make


def found(study: Study, seconds: float = 20) -> dict[str, Line]:
    """The lines of the first table by what is changed; all of them proven."""
    table = capacity(study, visit_plans(study), seconds=seconds).tables[0]
    lines = {line.change: line for line in (*table.lines, *table.more)}
    assert all(line.is_proven for line in lines.values())
    return lines


def test_one_bench_one_operator_by_hand(laboratory: Callable[..., Study]) -> None:
    """40 minutes a visit, two hours: 3. Neither a bench nor an operator alone helps; both make 6."""
    lines = found(laboratory())
    assert {change: line.found for change, line in lines.items()} == {
        "as it is": 3,
        "a second bench": 3,
        "a second person (operator), hours of K1": 3,
        "one bench fewer": 0,
        "one person (operator) fewer": 0,
        "two more: 3 of bench": 3,
        "two more: 3 of person (operator)": 3,
        "a second bench and a second person (operator), hours of K1": 6,
    }
    assert lines["a second bench"].count == 2
    assert lines["a second person (operator), hours of K1"].like == "K1"


def test_breaks_and_hours_are_the_studys_own(laboratory: Callable[..., Study]) -> None:
    """A break from 8:50 to 9:10 leaves two stretches of 50 minutes: one visit in each."""
    study = laboratory(breaks="08:50-09:10")
    lines = found(study)
    assert lines["as it is"].found == 2
    assert lines["a second person (operator), hours of K1"].found == 2
    assert lines["a second bench and a second person (operator), hours of K1"].found == 4


def test_the_cap_of_the_study_holds_and_is_said(laboratory: Callable[..., Study]) -> None:
    study = laboratory(study=STUDY + "at_most_visits_a_day: 2\n")
    assert found(study)["a second bench and a second person (operator), hours of K1"].found == 2
    assert "the study itself takes at most 2 a day" in capacity(study, visit_plans(study), seconds=5).words()


def test_each_kind_of_day_has_its_own_places(laboratory: Callable[..., Study]) -> None:
    """Two days of two hours are alike; one hour holds one visit of 40 minutes."""
    study = laboratory()
    tables = capacity(study, visit_plans(study), seconds=10).tables
    assert [(len(table.days), table.lines[0].found) for table in tables] == [(2, 3), (1, 1)]


def most_by_trying_all(benches: int, operators: int) -> int:
    """The most visits of TWICE in two hours, by trying every choice of starts in steps of ten minutes."""
    starts = range(8)  # a visit takes 50 minutes

    def fits(chosen: Sequence[int]) -> bool:
        on_bench = [sum(s <= t < s + 2 or s + 3 <= t < s + 5 for s in chosen) for t in range(12)]
        served = [sum(s <= t < s + 2 for s in chosen) for t in range(12)]
        return max(on_bench) <= benches and max(served) <= operators

    def most(chosen: list[int], first: int) -> int:
        further = (most([*chosen, s], s) for s in starts if s >= first and fits([*chosen, s]))
        return max([len(chosen), *further])

    return most([], 0)


def test_against_trying_all(laboratory: Callable[..., Study]) -> None:
    """A visit that comes to the bench twice and must not wait: the search against every choice of starts.

    Visits begin at any second; that steps of ten minutes lose nothing follows from all lengths being whole
    steps (every start can be moved earlier to one without changing any order).
    """
    lines = found(laboratory(TWICE), 40)
    assert lines["as it is"].found == most_by_trying_all(1, 1)
    assert lines["a second bench"].found == most_by_trying_all(2, 1)
    assert lines["two more: 3 of bench"].found == most_by_trying_all(3, 1)
    assert lines["a second person (operator), hours of K1"].found == most_by_trying_all(1, 2)
    both = lines["a second bench and a second person (operator), hours of K1"]
    assert both.found == most_by_trying_all(2, 2)


def test_more_is_never_less_and_bounds_hold() -> None:
    study = read_study(SMALL)
    counted = capacity(study, visit_plans(study), seconds=8)
    base, *changes = counted.lines
    assert changes
    for line in counted.lines:
        assert 0 <= line.found <= line.at_most
        assert line.difference <= 0 or line.found >= base.found
        assert line.difference >= 0 or line.at_most <= base.at_most
    fewer = {line.what: line.at_most for line in changes if line.difference == -1}
    assert fewer["rowing ergometer"] == 0  # there is one, and every visit needs it
    assert {table.protocol for table in counted.tables} == {"rowing.yaml", "practice.yaml"}
    assert "a day" in counted.words()


def test_every_plan_that_is_counted_passes_the_judge(laboratory: Callable[..., Study]) -> None:
    """The plans behind the figures, each in its own changed laboratory."""
    study = laboratory(TWICE)
    plans = visit_plans(study)
    count = Count(study, plans, "visit.yaml", like_days(study)[0])
    count.table(Budget(float("inf")), 20, with_changes=True)
    for variant in variants(study, kinds_of(study, plans["visit.yaml"], count.day)):
        visits = count.found[variant.change]
        made, _ = _made_up(variant.study, "visit.yaml", max(1, len(visits)))
        start = study.open[count.day][0].start
        schedule = Schedule(
            study.name, 1, None, made.fingerprint, start, Outcome.FEASIBLE, max(1, len(visits)), (), visits
        )
        assert [b.rule for b in verify(schedule, made, plans).broken if b.rule != "all-asked"] == []


def test_stopped_at_once_the_bounds_still_hold(laboratory: Callable[..., Study]) -> None:
    study = laboratory()
    counted = capacity(study, visit_plans(study), seconds=20, stop=lambda: True)
    assert all(line.found <= line.at_most <= 6 for line in counted.lines)
    assert counted.lines[0].at_most == 3  # by minutes of the one bench


def test_progress_is_told(laboratory: Callable[..., Study]) -> None:
    study, told = laboratory(TWICE), list[Progress]()
    capacity(study, visit_plans(study), seconds=10, progress=told.append)
    assert told
    assert {progress.stage for progress in told} == {"capacity"}


def test_nothing_asked_and_no_open_day() -> None:
    study = read_study(SMALL)
    plans = visit_plans(study)
    assert capacity(replace(study, asked={}), plans, seconds=1).lines == ()
    assert capacity(replace(study, open={}), plans, seconds=1).as_json()["day"] is None


def test_of_several_alike_it_is_said_which_is_taken_away(laboratory: Callable[..., Study]) -> None:
    study = laboratory()
    (one,) = study.people
    part = replace(one, id="K2", works={day: its[:1] for day, its in one.works.items()})
    both = replace(study, people=(one, part))
    kinds = kinds_of(both, visit_plans(both)["visit.yaml"], both.first_day)
    changes = {v.change: v for v in variants(both, kinds)}
    fewer = changes["one person (operator) fewer, without K1"]
    assert fewer.without == "K1"
    assert [person.id for person in fewer.study.people] == ["K2"]


def test_what_is_left_out_and_what_was_not_found_is_said():
    base, none = Line("as it is", "as it is", "", 0, 2, 2), Line("one bench fewer", "rig", "bench", -1, 0, 5)
    table = Table("a.yaml", (date(2027, 3, 1),), (base, none), cap=2)
    assert "at most 5 a day (none found in the time)" in table.words()
    words = Capacity((table,), 3).words()
    assert "1 of 4 kinds of day are counted" in words
    assert "mixed days are not counted" in words
    assert "counted:" not in Capacity((table,)).words()


def test_days_alike_are_counted_as_people_say_it():
    line = Line("as it is", "as it is", "", 0, 2, 2)
    days = tuple(date(2027, 3, day) for day in (1, 2, 3))
    for number, said in ((1, "2027-03-01, visits"), (2, "and 1 day like it,"), (3, "and 2 days like it,")):
        assert said in Table("a.yaml", days[:number], (line,)).words()
