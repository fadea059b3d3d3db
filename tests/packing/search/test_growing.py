"""Days grown from their opening on: every day keeps every rule, and what must come comes first."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from pathlib import Path

import pytest

from planner.packing.core import Answer, Core
from planner.packing.greedy import greedy
from planner.packing.model import keeps_rules
from planner.packing.problem import DayProblem
from planner.packing.search.growing import Growth, _Growing
from planner.packing.search.lns import Effort
from planner.packing.search.overtime import long_day
from planner.packing.translate import translate
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DAY = Path(__file__).parents[2] / "data" / "treadmill_day"


@pytest.fixture(scope="module")
def day() -> Core:
    study = read_study(DAY)
    (date,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)
    return translate(DayProblem(study, visit_plans(study), date, visits))[0]


def _grown(core: Core, *, most: int, seconds: float = 60, workers: int = 2, known: int = 99) -> Answer:
    effort = Effort(time.monotonic() + seconds, seconds, workers, seed=3)
    long = long_day(core, 2 * core.jobs[core.visits()[0]].alone)
    return Growth(long, effort, most, known, tries=1).day()


def test_a_day_that_grows_keeps_every_rule_and_ends_in_time(day: Core) -> None:
    found = _grown(day, most=99)
    assert keeps_rules(day, found)
    assert found.placed(day) >= greedy(day, rounds=1, seconds=None).placed(day)


def test_it_ends_with_as_many_visits_as_are_enough(day: Core) -> None:
    assert _grown(day, most=4).placed(day) == 4


def test_a_visit_that_must_come_comes_before_all_others(day: Core) -> None:
    last = day.visits()[-1]
    jobs = tuple(replace(job, must=True, alike=None) if j == last else job for j, job in enumerate(day.jobs))
    found = _grown(replace(day, jobs=jobs), most=1)
    assert [j for j in day.visits() if found.starts[j] is not None] == [last]


def test_whoever_must_leave_early_is_not_kept_waiting_for_others(day: Core) -> None:
    early = day.visits()[-1]
    soon, whole = ((0, day.jobs[early].alone + day.horizon // 20),), ((0, day.horizon),)
    jobs = tuple(
        replace(
            job,
            within=soon if j == early else whole,
            starts=whole,
            alike="early" if j == early else "all day",
        )
        for j, job in enumerate(day.jobs)
    )
    found = _grown(replace(day, jobs=jobs), most=6)
    assert found.starts[early] is not None


def test_one_worker_grows_the_same_day_again(day: Core) -> None:
    days = [_grown(day, most=5, workers=1, seconds=2) for _ in range(2)]
    assert days[0] == days[1]
    assert keeps_rules(day, days[0])


def test_a_day_without_time_is_empty_and_no_fault(day: Core) -> None:
    assert _grown(day, most=5, seconds=-1).placed(day) == 0


def test_who_ends_too_late_takes_along_what_comes_after_it(day: Core) -> None:
    """One participant's two visits: the second has no place without the first."""
    first, second = day.visits()[:2]
    both = replace(day, in_turn=((first, second),))
    placed = greedy(day, rounds=1, seconds=None)
    assert placed.starts[first] is not None
    assert placed.starts[second] is not None
    starts = list(placed.starts)
    starts[first] = tuple(start + day.horizon for start in placed.starts[first] or ())
    growth = Growth(long_day(both, 2 * day.horizon), Effort(0, 1, 1, seed=1), 99, 0, tries=1)
    found = _Growing(growth, random.Random(1))._within(Answer(tuple(starts), placed.given))
    assert found.starts[first] is None
    assert found.starts[second] is None
    assert found.placed(day) == placed.placed(day) - 2
