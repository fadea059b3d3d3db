"""The earliest last day, from all participants' chains of visits and the rooms of all days taken together.

A flow of visits into days lets the visits of one participant crowd together; here each keeps its days from
the one before, two of them on one day where that may be. Nothing else is said of hours within a day, so
that what is proven holds for the laboratory.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from ortools.sat.python import cp_model

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.solve import Limits, set_limits

MOST_CELLS = 40_000  # visits times days: more take longer to write down than the proof is worth
MOST_S = 2.0  # for one day asked about

Cells = dict[int, cp_model.IntVar]


def least_day_of_chains(bounds: Bounds, low: int, high: int, budget: Budget) -> int:
    """A day from `low` to `high` before which no plan that places every visit ends; `low` is known to be one.

    `high` is a day by which a plan is known to end.
    """
    asked = high - 1  # first the day that would prove what was found
    while low < high and not budget.is_over:
        seconds = min(MOST_S, budget.left_s)
        budget.spend(seconds)
        if not cannot_end_by(bounds, asked, budget, seconds):
            high = asked
        else:
            low = asked + 1
        asked = (low + high) // 2
    return low


def cannot_end_by(bounds: Bounds, end: int, budget: Budget, seconds: float) -> bool:
    """Whether it is proven that not all visits fit by that calendar day; False where nothing is known."""
    model = cp_model.CpModel()
    by_day: dict[int, list[cp_model.IntVar]] = defaultdict(list)
    cells = 0
    for visits in bounds.study.asked.values():
        reached = bounds.reach(visits, end)
        if reached is None:
            return True
        cells += sum(mask.bit_count() for mask in reached)
        if cells > MOST_CELLS:
            return False
        for legs in _chain(model, bounds.spans(visits), reached, end):
            for day, cell in legs.items():
                by_day[day].append(cell)
    rooms = bounds.rooms(end)
    for day, some in by_day.items():
        model.add(sum(some) <= rooms[day])
    solver = cp_model.CpSolver()
    set_limits(solver, Limits(seconds, budget.workers, bounds.study.seed))
    return bool(solver.solve(model) == cp_model.INFEASIBLE)


def _chain(
    model: cp_model.CpModel, spans: Sequence[tuple[int, int | None]], reached: Sequence[int], end: int
) -> list[Cells]:
    """A cell for each day that each visit of one participant may take; exactly one is taken, in order."""
    legs = []
    for mask in reached:
        cells = {day: model.new_bool_var("") for day in range(end + 1) if mask >> day & 1}
        model.add_exactly_one(cells.values())
        legs.append(cells)
    for number, (least, most) in enumerate(spans[1:], start=1):
        _apart(model, legs[number - 1], legs[number], least, end if most is None else most)
    return legs


def _apart(model: cp_model.CpModel, before: Cells, after: Cells, least: int, most: int) -> None:
    """`after` lies `least` to `most` days behind `before`."""
    for day, cell in after.items():
        model.add(
            sum(c for d, c in after.items() if d <= day)
            <= sum(c for d, c in before.items() if d <= day - least)
        )
        model.add_bool_or([~cell, *(c for d, c in before.items() if least <= day - d <= most)])
    for day, cell in before.items():
        model.add_bool_or([~cell, *(c for d, c in after.items() if least <= d - day <= most)])
