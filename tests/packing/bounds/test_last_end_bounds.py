"""No end is called too early that a plan keeps: bounds against the exact optimum of small days."""

from __future__ import annotations

import time
from dataclasses import replace

import pytest
from ortools.sat.python import cp_model

from planner.packing.bounds import last_end_bounds
from planner.packing.bounds.arithmetic import earliest_last_end
from planner.packing.bounds.counted import cannot_be_counted
from planner.packing.bounds.edges import least_lost
from planner.packing.bounds.last_end_bounds import closing_at, earliest_proven
from planner.packing.bounds.shapes import alike_day
from planner.packing.core import Core, Gap, Job, Resource, Use, Wants
from planner.packing.model import make_model
from planner.packing.objective import last_end
from planner.packing.solve import Limits

LIMITS = Limits(2.0, 1)


def small_day(seed: int, count: int = 3) -> Core:
    """Alike visits: talk, bout, two readings in windows; one bout's rig, two people with different roles."""
    lengths, late = (2 + seed % 3, 4, 3, 3, 1), 1 + seed % 4
    gaps = (Gap(0, 1, lengths[0]), Gap(1, 2, 4, 4 + late), Gap(1, 3, 9, 9 + 2 * late), Gap(3, 4, 3))
    alone = lengths[0] + 9 + 3 + 1
    job = Job(0, lengths, gaps, (), ((0, 90),), ((0, 90),), 0, 4, alone, 6, True, "alike")
    who = [(1,), (1, 2), (0, 1), (0, 1) if seed % 2 else (0, 1, 2)]
    uses = tuple(
        (
            Use(j, Wants.RIG, "treadmill", 1, 1, 1, (3,)),
            *(Use(j, Wants.STAFF, "staff", i, i, 0, choices) for i, choices in enumerate(who)),
            Use(j, Wants.STAFF, "helper", 3, 3, 0, (0, 1, 2)),
        )
        for j in range(count)
    )
    free = ((0, 15 + seed), (18 + seed, 90))
    people = [Resource(name, True, frozenset({"staff", "helper"}), free) for name in "ABC"]
    rig = Resource("E1", False, frozenset({"treadmill"}), ((0, 90),))
    return Core(30, 90, tuple(replace(job, key=j) for j in range(count)), uses, (*people, rig))


def optimum(core: Core) -> int:
    v = make_model(core)
    v.model.minimize(last_end(v).expression)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(v.model) == cp_model.OPTIMAL
    return round(solver.objective_value)


@pytest.mark.parametrize("few", [0, 8])
@pytest.mark.parametrize("seed", range(8))
def test_no_plan_ends_before_the_bound(seed: int, few: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(last_end_bounds, "FEW", few)
    core = small_day(seed)
    low, least = earliest_last_end(core), optimum(core)
    assert low <= earliest_proven(core, low, core.horizon, LIMITS) <= least


@pytest.mark.parametrize("seed", range(8))
def test_a_counted_day_refuses_no_end_that_a_plan_keeps(seed: int) -> None:
    core = small_day(seed)
    least, low = optimum(core), earliest_last_end(core)
    day = alike_day(closing_at(core, least), 3)
    assert day is not None
    assert not cannot_be_counted(day, LIMITS)
    too_short = alike_day(closing_at(core, low - 1), 3)
    assert too_short is None or cannot_be_counted(too_short, LIMITS)


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("seed", range(4))
def test_a_run_that_ends_before_it_knows_anything_proves_nothing(seed: int, workers: int) -> None:
    """At the end of the time: the solver's bound is 0 then, as if nobody could do anything at all."""
    day = alike_day(small_day(seed), 3)
    assert day is not None
    people = frozenset(r for r, supply in enumerate(day.supplies) if supply.is_person)
    until = day.horizon // 3
    for seconds in (0.0, 1e-6, 1e-4):
        limits = Limits(seconds, workers, until=time.monotonic())
        lost = least_lost(day, people, until, day.room(people, 0, until) + 1, limits)
        assert lost < day.room(people, 0, until), "somebody can do something"


def test_both_ways_prove_more_than_arithmetic_somewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    for few in (0, 8):
        monkeypatch.setattr(last_end_bounds, "FEW", few)
        gained = [
            earliest_proven(core, low, core.horizon, LIMITS) - low
            for core in map(small_day, range(8))
            for low in [earliest_last_end(core)]
        ]
        assert max(gained) > 0, few
