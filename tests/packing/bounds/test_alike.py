"""Alike visits in order: any plan can be told so, and no least or greatest value gets lost by it."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest
from ortools.sat.python import cp_model

from planner.packing.bounds.alike import sort_alike, sorted_activities
from planner.packing.core import Answer, Core, Use, Wants
from planner.packing.model import keeps_rules, make_model
from planner.packing.objective import last_end, value, waiting

Make = Callable[..., Core]


def least(core: Core, aim: object, *, order_alike: bool) -> int:
    v = make_model(core, order_alike=order_alike)
    v.model.minimize(aim(v).expression)  # type: ignore[operator]
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(v.model) == cp_model.OPTIMAL
    return round(solver.objective_value)


@pytest.mark.parametrize("seed", range(6))
def test_order_loses_neither_the_earliest_end_nor_the_least_waiting(windowed_day: Make, seed: int) -> None:
    core = windowed_day(3, seed)
    for aim in (last_end, waiting):
        assert least(core, aim, order_alike=True) == least(core, aim, order_alike=False)


def test_visits_that_cross_are_told_apart_anew(windowed_day: Make) -> None:
    core = windowed_day(2)
    crossed = Answer(((0, 12, 15), (2, 4, 7 + 10)), ((2, 0, 0, 0), (2, 0, 0, 0)))
    sorted_answer = sort_alike(core, crossed)
    assert sorted_answer.starts == ((0, 4, 15), (2, 12, 17))


@pytest.mark.parametrize("seed", range(6))
def test_a_plan_in_order_keeps_every_rule_and_waits_no_longer(windowed_day: Make, seed: int) -> None:
    core = windowed_day(4, seed)
    v = make_model(core, order_alike=False)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers, solver.parameters.random_seed = 1, seed
    draw = random.Random(seed)
    v.model.minimize(sum(draw.randint(-3, 3) * x for its in v.start for x in its))
    assert solver.solve(v.model) == cp_model.OPTIMAL
    answer = Answer(
        tuple(tuple(solver.value(x) for x in its) for its in v.start),
        tuple(tuple(next(r for r, one in u.items() if solver.value(one)) for u in its) for its in v.given),
    )
    in_order = sort_alike(core, answer)
    assert keeps_rules(core, in_order)
    assert all(a <= b for a, b in zip(in_order.starts[0], in_order.starts[1], strict=True))  # type: ignore[arg-type]
    assert value(core, in_order, "last_end_s") == value(core, answer, "last_end_s")
    assert value(core, in_order, "waiting_s") <= value(core, answer, "waiting_s")


def test_whole_visits_move_where_a_rig_or_a_rule_ties_two_activities(windowed_day: Make) -> None:
    core = windowed_day(2)
    assert sorted_activities(core, [0, 1]) == [0, 1, 2]
    assert sorted_activities(replace(core, same=(((0, 1), (0, 2)),)), [0, 1]) == [0]
    several = tuple((replace(its[0], choices=(0, 2)), *its[1:]) for its in core.uses)
    assert sorted_activities(replace(core, uses=several), [0, 1]) == [0]
    watched = tuple((*its, Use(j, Wants.WATCH, "operator", 1, 1, 2, (0,))) for j, its in enumerate(core.uses))
    assert sorted_activities(replace(core, uses=watched), [0, 1]) == [0]
