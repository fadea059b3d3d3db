"""Visits of one participant on one day: near enough in time, or never both."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from planner.packing.core import Answer
from planner.packing.greedy import greedy
from planner.packing.near import NEVER
from planner.packing.pack import pack
from planner.packing.problem import DayProblem
from planner.packing.translate import translate
from planner.packing.why.case import Case
from planner.packing.why.explain import proofs
from planner.packing.why.oracle import Kind, Oracle
from planner.schedule.model import Outcome, Schedule
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

PROTOCOL = """format: 1
name: visit
title: A visit of half an hour
version: "1"
cautions: [Stop when the participant asks to.]
visit:
  - {id: sit, title: Sitting, takes: 30 min, rig: chair, staff: [operator]}
"""
STUDY = """format: 1
name: one-day
time_zone: Europe/Oslo
visits: VISITS
days: {from: 2027-03-01, to: 2027-03-01, open: {mon: "08:00-12:00"}}
rigs: {chair: [C1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
availability: availability.csv
"""
CONDITIONS = "[{id: v, protocol: visit.yaml, conditions: [a, b]GAP}]"


@pytest.fixture
def day(tmp_path: Path) -> Callable[..., Path]:
    """A function that writes a study of one day: its visits, more lines of study.yaml, when R01 can come."""

    def make(visits: str, more: str = "", *lines: str, count: int = 1) -> Path:
        files = {
            "visit.yaml": PROTOCOL,
            "study.yaml": STUDY.replace("VISITS", visits) + more,
            "staff.csv": "person,roles\nK1,operator\n",
            "shifts.csv": "person,days,from,to,breaks\nK1,mon,08:00,12:00,\n",
            "participants.csv": "\n".join(["participant", *(f"R{n:02}" for n in range(1, count + 1)), ""]),
            "availability.csv": "\n".join(["participant,days,from,to,visit", *lines, ""]),
        }
        for name, text in files.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        return tmp_path

    return make


def packed(folder: Path) -> Schedule:
    study = read_study(folder)
    return pack(study, visit_plans(study), seconds=4, now=datetime(2027, 2, 1, 8, tzinfo=study.zone))


def problem_of(folder: Path) -> DayProblem:
    study = read_study(folder)
    (on,) = study.open
    return DayProblem(study, visit_plans(study), on, tuple(v for vs in study.asked.values() for v in vs))


def test_two_visits_with_days_between_are_never_both_on_the_one_day(day: Callable[..., Path]):
    """Proven before packing, and yet the plan was called good: what the judge left out was no reason."""
    made = packed(day(CONDITIONS.replace("GAP", ", between_conditions: {at_least: 1 d}"), count=3))
    assert (made.status, made.placed) == (Outcome.IMPOSSIBLE, 3)
    told = " ".join(reason.message for reason in made.reasons)
    assert "at least 1 day between two visits of v" in told
    assert all("whoever else comes" in one.message for one in made.not_placed)


def test_a_practice_the_day_before_leaves_one_of_the_two(day: Callable[..., Path]):
    visit = "{id: v, protocol: visit.yaml, since_last: {at_least: 1 d}}"
    made = packed(day(f"[{{id: practice, protocol: visit.yaml}}, {visit}]"))
    assert (made.status, made.placed) == (Outcome.IMPOSSIBLE, 1)
    assert any("at least 1 day between v and the visit before it" in r.message for r in made.reasons)


@pytest.mark.parametrize(("width", "placed"), [("29 min", 1), ("30 min", 2)])
def test_starts_of_one_day_keep_to_the_time_of_day(day: Callable[..., Path], width: str, placed: int):
    """Two visits of half an hour start half an hour apart at least."""
    made = packed(day(CONDITIONS.replace("GAP", ""), f"same_time_of_day: {width}\n"))
    assert made.placed == placed
    assert made.status is (Outcome.OPTIMAL if placed == 2 else Outcome.IMPOSSIBLE)
    assert placed == 2 or any("within 29 min of the day" in reason.message for reason in made.reasons)


def test_the_second_comes_right_after_the_first_where_it_must(day: Callable[..., Path]):
    """R02 can come in the middle only, and R01's two visits keep together before or after."""
    study = "same_time_of_day: 30 min\n"
    made = packed(day(CONDITIONS.replace("GAP", ""), study, "R02,mon,09:00,10:00,", count=2))
    assert (made.status, made.placed) == (Outcome.OPTIMAL, 4)


def test_a_first_plan_keeps_to_it_too(day: Callable[..., Path]):
    core, _ = translate(problem_of(day(CONDITIONS.replace("GAP", ""), "same_time_of_day: 29 min\n")))
    assert core.near == ((0, 1, 29 * 60 // core.step_s),)
    assert greedy(core).placed(core) == 1
    never, _ = translate(problem_of(day(CONDITIONS.replace("GAP", ", between_conditions: {at_least: 1 d}"))))
    assert never.near == ((0, 1, NEVER),)
    assert isinstance(found := greedy(never), Answer)
    assert found.placed(never) == 1


def test_two_visits_of_one_participant_that_collide_on_their_only_day_are_proven_to(day: Callable[..., Path]):
    """The second can come first only: 08:00-08:40, and the first may not begin before 08:20."""
    visits = "[{id: one, protocol: visit.yaml}, {id: two, protocol: visit.yaml}]"
    folder = day(visits, "", "R01,mon,08:20,12:00,one", "R01,mon,08:00,08:40,two")
    study = read_study(folder)
    case, oracle = Case(study, visit_plans(study)), Oracle(10**9)
    (found,) = proofs(case, ["R01"], oracle)
    assert found.kind in (Kind.TOGETHER, Kind.COUNT)
    made = packed(folder)
    assert (made.status, made.placed) == (Outcome.IMPOSSIBLE, 1)
    assert any("R01 can come for two" in reason.message for reason in made.reasons)
