"""A plan in the making: what its visits leave to one more of the same participant."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date
from pathlib import Path

from planner.clock import DaySpan
from planner.packing.budget import Budget
from planner.packing.days.polish import add, polish_day
from planner.packing.running import Running
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

MONDAY, TUESDAY, FRIDAY = (date(2027, 3, day) for day in (1, 2, 5))


def _with_gap(folder: Path, gap: DaySpan | None) -> Running:
    """The small study, its visits that far apart."""
    study = read_study(folder)
    asked = {
        who: tuple(replace(v, gap=gap if n else None, start=None) for n, v in enumerate(visits))
        for who, visits in study.asked.items()
    }
    study = replace(study, asked=asked, available={})
    return Running(study, visit_plans(study), {}, {})


def _put(running: Running, number: int, day: date) -> bool:
    budget = Budget(time.monotonic() + 60)
    return add(running, running.study.asked["ROW-01"][number], day, 0.0, budget)


def test_a_visit_may_follow_on_the_same_day_where_no_day_must_lie_between(small: Path):
    for gap, first in ((None, MONDAY), (DaySpan(0, 1), MONDAY), (DaySpan(1, 1), TUESDAY)):
        running = _with_gap(small, gap)
        assert _put(running, 0, MONDAY)
        assert running.days_for(running.study.asked["ROW-01"][1])[0] == first


def test_it_never_comes_on_a_day_before_though_no_gap_is_written(small: Path):
    running = _with_gap(small, None)
    assert _put(running, 1, TUESDAY)
    visits = running.study.asked["ROW-01"]
    assert FRIDAY not in running.days_for(visits[0])
    assert MONDAY not in running.days_for(visits[2])


def test_on_the_same_day_it_comes_in_turn(small: Path):
    running = _with_gap(small, None)
    assert _put(running, 2, MONDAY)
    assert not _put(running, 1, MONDAY), "the last visit is the first of the day"
    running = _with_gap(small, None)
    assert _put(running, 0, MONDAY)
    assert _put(running, 1, MONDAY)
    practice, rowing = running.on(MONDAY)
    assert practice.file_id == "practice"
    assert practice.end <= rowing.start


def test_two_of_one_day_packed_anew_keep_to_one_time_of_day(small: Path):
    running = _with_gap(small, None)
    assert all(_put(running, number, MONDAY) for number in (0, 1, 2))
    before = {v.file_id: v.start for v in running.on(MONDAY)}
    asked = running.study.asked["ROW-01"]
    windows = running.problem(MONDAY, asked).start_windows
    (first,), (second,) = (windows["ROW-01", visit.file_id] for visit in asked[1:])
    assert first == second
    assert first.length_s == running.study.same_time_of_day_s
    assert all(first.start <= before[visit.file_id] <= first.end for visit in asked[1:])
    budget = Budget(time.monotonic() + 60)
    polish_day(running, MONDAY, budget, seconds=2.0, stages=("placed", "waiting_s"), finer=True)
    assert len(running.on(MONDAY)) == 3
