"""Arithmetic bounds: never below what is possible, and as printed for a day that was counted by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from planner.packing.bounds.alike import sort_alike
from planner.packing.bounds.arithmetic import earliest_last_end, most_placed
from planner.packing.core import Answer, Core
from planner.packing.day import pack_day
from planner.packing.greedy import greedy, refill
from planner.packing.objective import value
from planner.packing.pools import pool
from planner.packing.problem import DayProblem
from planner.packing.translate import translate
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DAY = Path(__file__).parents[2] / "data" / "treadmill_day"
PLAN = DAY.with_name("treadmill_day-plan.json")


@pytest.fixture
def treadmill() -> DayProblem:
    """A day invented for this project: fifteen activities a visit, three people, one treadmill."""
    study = read_study(DAY)
    (day,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)
    return DayProblem(study, visit_plans(study), day, visits)


def test_person_minutes_of_a_day_counted_by_hand(treadmill: DayProblem) -> None:
    """A visit takes 42 min of operators, 11 min 40 s of cheek support, 30 min of leads."""
    core, _ = translate(treadmill)
    load = sum(
        use.tail + core.jobs[0].lengths[use.first]
        for use in core.uses[0]
        if core.resources[use.choices[0]].is_person
    )
    assert load * core.step_s == 42 * 60 + 4 * 175 + 30 * 60
    free = sum(end - start for r in core.resources if r.is_person for start, end in r.free)
    assert most_placed(core) <= free // load


def test_bounds_hold_for_what_is_packed(treadmill: DayProblem) -> None:
    """From a good plan on, so that the bounds are held against one however short the search is."""
    core, _ = translate(treadmill)
    good = read_plan(PLAN, treadmill.study).visits
    result = pack_day(treadmill, seconds=1, stages=("placed", "last_end_s"), hint=good)
    assert len(good) <= len(result.visits) <= most_placed(core)
    ends = {stage.name: stage for stage in result.stages}
    assert ends["last_end_s"].value >= ends["last_end_s"].bound
    if not result.not_placed:
        assert ends["last_end_s"].value >= earliest_last_end(core) * core.step_s


@pytest.mark.parametrize("count", [1, 2, 3])
def test_bounds_meet_small_days_that_are_solved_outright(
    rich_day: Callable[..., DayProblem], count: int
) -> None:
    problem = rich_day(count)
    core, _ = translate(problem)
    result = pack_day(problem, seconds=8, stages=("placed", "last_end_s"))
    assert result.stages[0].value == most_placed(core) == count
    assert earliest_last_end(core) * core.step_s <= result.stages[1].value


def test_pools_give_every_use_a_member_of_its_own(treadmill: DayProblem) -> None:
    core, _ = translate(treadmill)
    pools = pool(core)
    assert pools.members
    answer = pools.part(greedy(pools.core, rounds=3, seconds=None))
    assert_nothing_overlaps(core, answer)
    assert value(core, answer, "placed") == answer.placed(core)


def test_the_greedy_and_what_is_put_in_overlap_nothing(treadmill: DayProblem) -> None:
    core, _ = translate(treadmill)
    answer = greedy(core, rounds=2, seconds=None)
    assert_nothing_overlaps(core, answer)
    left_out = next(j for j, starts in enumerate(answer.starts) if starts is not None)
    starts, given = list(answer.starts), list(answer.given)
    starts[left_out] = given[left_out] = None
    again = refill(core, Answer(tuple(starts), tuple(given)), [left_out])
    assert again.starts[left_out] is not None
    assert_nothing_overlaps(core, again)


def test_sorting_alike_visits_makes_no_value_worse(treadmill: DayProblem) -> None:
    core, _ = translate(treadmill)
    answer = greedy(core, rounds=2, seconds=None)
    in_order = sort_alike(core, answer)
    for name in ("placed", "last_end_s"):
        assert value(core, in_order, name) == value(core, answer, name)
    assert value(core, in_order, "waiting_s") <= value(core, answer, "waiting_s")
    assert_nothing_overlaps(core, in_order)


def test_fewer_hours_never_raise_the_bound(treadmill: DayProblem) -> None:
    core, _ = translate(treadmill)
    short = replace(
        core,
        resources=tuple(replace(r, free=tuple((a, (a + b) // 2) for a, b in r.free)) for r in core.resources),
    )
    assert most_placed(short) <= most_placed(core)


def assert_nothing_overlaps(core: Core, answer: Answer) -> None:
    """No rig or person is taken twice at once, or outside its free time; distances hold."""
    times: dict[int, list[tuple[int, int]]] = {}
    for j, starts in enumerate(answer.starts):
        if starts is None:
            continue
        for use, r in zip(core.uses[j], answer.given[j] or (), strict=True):
            begin = starts[use.first] - use.lead
            times.setdefault(r, []).append(
                (begin, starts[use.last] + core.jobs[j].lengths[use.last] + use.tail)
            )
        for gap in core.jobs[j].gaps:
            assert starts[gap.later] - starts[gap.earlier] >= gap.low
            assert gap.high is None or starts[gap.later] - starts[gap.earlier] <= gap.high
    for r, own in times.items():
        assert all(any(a <= start and end <= b for a, b in core.resources[r].free) for start, end in own)
        in_order = sorted(own)
        assert all(a[1] <= b[0] for a, b in pairwise(in_order))
