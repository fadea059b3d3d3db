"""A plan that something has broken: what can stay keeps its times, and the rest goes beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from planner.packing.day import pack_day
from planner.packing.model import keeps_rules
from planner.packing.problem import DayProblem
from planner.packing.realise import as_answer
from planner.packing.solve import Limits
from planner.packing.staying import put_right, staying
from planner.packing.translate import translate

Make = Callable[..., DayProblem]
LIMITS = Limits(5, 1)


def test_a_plan_that_nothing_has_broken_stays_whole(rich_day: Make) -> None:
    problem = rich_day(3)
    core, grid = translate(problem)
    made = pack_day(problem, seconds=3, stages=("placed",), workers=1)
    known = as_answer(problem, core, grid, made.visits)
    assert known is not None
    still = staying(core, known, LIMITS)
    assert still is not None
    assert [still.starts[j] for j in core.visits()] == [known.starts[j] for j in core.visits()]


def test_only_what_overlaps_falls_out_and_is_put_right(rich_day: Make) -> None:
    problem = rich_day(3)
    core, grid = translate(problem)
    made = pack_day(problem, seconds=3, stages=("placed",), workers=1)
    first = min(visit.start for visit in made.visits)
    at_once = [
        replace(visit, activities=tuple(_earlier(a, visit.start - first) for a in visit.activities))
        for visit in made.visits
    ]
    known = as_answer(problem, core, grid, at_once)
    assert known is not None
    assert not keeps_rules(core, known)
    still = staying(core, known, LIMITS)
    assert still is not None
    assert 1 <= still.placed(core) < 3
    right = put_right(core, known, seconds=5, workers=1, seed=1)
    assert right is not None
    assert keeps_rules(core, right)
    assert right.placed(core) == 3


def _earlier(activity, by: timedelta):
    moments = ("start", "end", "first_effort")
    there = {name: getattr(activity, name) for name in moments if getattr(activity, name) is not None}
    return replace(activity, **{name: moment - by for name, moment in there.items()})
