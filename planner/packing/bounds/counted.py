"""A whole day of alike visits with rigs and people only counted: whether all can be out by its end.

That nobody stands behind a number makes it easier than the day itself, so what cannot be counted cannot be
done either. It is small enough to be refused where the day with its people stays undecided.
"""

from __future__ import annotations

from collections import Counter

from ortools.sat.python import cp_model

from planner.packing.away import away, counted_together
from planner.packing.bounds.arithmetic import unions
from planner.packing.bounds.shapes import AlikeDay, Hold
from planner.packing.solve import Limits, Stopper, set_limits

Points = list[cp_model.IntVar]
Span = tuple[int, int, int, int]  # first and last point of a hold, and how far from them it begins and ends


def cannot_be_counted(day: AlikeDay, limits: Limits) -> bool:
    """Whether it is proven in time that not all visits of the day end within it."""
    if day.is_too_full:
        return True
    reach = [[day.reach(k, i) for i in range(len(day.shape.least))] for k in range(day.count)]
    model = cp_model.CpModel()
    visits = [[model.new_int_var(low, high, "point") for low, high in its] for its in reach]
    _distances(model, day, visits)
    _enough(model, day, visits)
    solver = cp_model.CpSolver()
    set_limits(solver, limits)
    solver.parameters.use_timetable_edge_finding_in_cumulative = True  # ten times as soon, as measured
    solver.parameters.use_overload_checker_in_cumulative = True
    with Stopper(solver, limits.stop) as stopper:
        status = solver.solve(model)
    if status == cp_model.MODEL_INVALID:
        raise ValueError("the model of a counted day is not valid")
    return status == cp_model.INFEASIBLE and not stopper.stopped


def _distances(model: cp_model.CpModel, day: AlikeDay, visits: list[Points]) -> None:
    """Within each visit as its shape says; each point of a visit not before that of the visit before."""
    for k, points in enumerate(visits):
        for i, row in enumerate(day.shape.least):
            for j, least in enumerate(row):
                if i != j and least is not None:
                    model.add(points[j] >= points[i] + least)
            if k:
                model.add(points[i] >= visits[k - 1][i])
        if k >= day.abreast:
            model.add(points[day.turn] >= visits[k - day.abreast][day.turn] + day.apart)


def _enough(model: cp_model.CpModel, day: AlikeDay, visits: list[Points]) -> None:
    """Of every union of rigs or people never more are held than there are."""
    holds = (*day.shape.people, *day.shape.rigs)
    made: dict[tuple[int, Span], cp_model.IntervalVar] = {}
    for union in unions({hold.choices for hold in holds}):
        together = Counter(_span(hold) for hold in holds if hold.choices <= union)
        intervals, demands = _closed(model, day, union)
        capacity, large = sum(day.supplies[r].many for r in union), []
        for k, points in enumerate(visits):
            for span, demand in together.items():
                if (k, span) not in made:
                    made[k, span] = _interval(model, day, points, span)
                intervals.append(made[k, span])
                demands.append(demand)
                large += [made[k, span]] if 2 * demand > capacity else []
        model.add_cumulative(intervals, demands, capacity)
        model.add_no_overlap(large)


def _span(hold: Hold) -> Span:
    return hold.first, hold.last, hold.begins, hold.ends


def _interval(model: cp_model.CpModel, day: AlikeDay, points: Points, span: Span) -> cp_model.IntervalVar:
    first, last, begins, ends = span
    size = ends - begins if first == last else model.new_int_var(0, 2 * day.horizon, "held for")
    return model.new_interval_var(points[first] + begins, size, points[last] + ends, "held")


def _closed(
    model: cp_model.CpModel, day: AlikeDay, union: frozenset[int]
) -> tuple[list[cp_model.IntervalVar], list[int]]:
    """When how many of the union are not there, from long before the day to long after it."""
    far, supplies = 3 * day.horizon, [day.supplies[r] for r in sorted(union)]
    profile = counted_together((a, b, one.many) for one in supplies for a, b in away(one.free, far))
    intervals = [model.new_fixed_size_interval_var(a, b - a, "closed") for a, b, _ in profile]
    return intervals, [many for _, _, many in profile]
