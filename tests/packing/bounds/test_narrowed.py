"""Distances that follow from a day's waiting lose no plan that waits no longer."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from ortools.sat.python import cp_model

from planner.packing.bounds.alone import least_each
from planner.packing.bounds.narrowed import narrowed
from planner.packing.core import Core, closure, stretched
from planner.packing.model import make_model
from planner.packing.objective import last_end, waiting

Make = Callable[..., Core]


def least_end(core: Core, total: int, *, greatest: bool = False) -> int | None:
    """The least (or greatest) last end of plans whose waiting is `total` at most; None: there is none."""
    v = make_model(core)
    v.model.add(waiting(v).expression <= total)
    end = last_end(v).expression
    v.model.minimize(-sum(starts[-1] for starts in v.start) if greatest else end)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return round(solver.objective_value) if solver.solve(v.model) == cp_model.OPTIMAL else None


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("spare", [0, 1, 3])
def test_no_plan_is_lost(windowed_day: Make, seed: int, spare: int) -> None:
    core = windowed_day(3, seed)
    total = sum(least_each(core).values()) + spare
    for greatest in (False, True):
        assert least_end(narrowed(core, total), total, greatest=greatest) == least_end(
            core, total, greatest=greatest
        )


def test_a_visit_that_waits_the_least_it_can_is_nearly_rigid(windowed_day: Make) -> None:
    core = windowed_day(2)
    wide, tight = (
        closure(3, stretched(day.jobs[0])) for day in (core, narrowed(core, sum(least_each(core).values())))
    )
    assert wide is not None
    assert tight is not None
    assert wide.at_least(2, 1) == -6  # the window is open for a step more,
    assert tight.at_least(1, 2) == -(tight.at_least(2, 1) or 0) == 5  # its target is not


def test_no_plan_waits_less_than_the_least_of_each_together(windowed_day: Make) -> None:
    core = windowed_day(2)
    assert least_end(core, sum(least_each(core).values()) - 1) is None
