"""The least that people must lose near the opening of a day of alike visits; mirrored, near its closing.

Nobody can measure before somebody has consented, and a visit can turn only when the one before has left the
rig: so the first hour and a half is never full. How full it can be is asked of a small model of the first few
visits alone. Every plan can be told so that the k-th of all first blocks, the k-th of all second blocks, and
so on, belong to the k-th visit: sorting each block by itself keeps every distance and who does what when
(rigs are only counted here). So all is asked in one order, which is what makes the proof short.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.packing.away import away
from planner.packing.bounds.arithmetic import unions
from planner.packing.bounds.shapes import AlikeDay, Hold
from planner.packing.solve import Limits, Stopper, set_limits

MOST_VISITS = 12  # with work near the edge; beyond, the model is too large to prove anything in seconds


@dataclass
class _Edge:
    """The model of what happens before `until`: the points of the first visits, and what they hold."""

    day: AlikeDay
    until: int
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    points: list[dict[int, cp_model.IntVar]] = field(default_factory=list)
    held: dict[frozenset[int], list[cp_model.IntervalVar]] = field(default_factory=lambda: defaultdict(list))
    by_person: dict[int, list[cp_model.IntervalVar]] = field(default_factory=lambda: defaultdict(list))


def least_lost(day: AlikeDay, people: frozenset[int], until: int, enough: int, limits: Limits) -> int:
    """Steps of those people before `until` that no plan of all visits can use, as far as proven in time.

    More than `enough` is not looked for.
    """
    if day.is_too_full:
        return enough
    edge = _edge(day, until)
    if not edge.points or len(edge.points) > MOST_VISITS:
        return 0
    room = day.room(people, 0, until)
    work = sum(
        _work(edge, k, hold)
        for k, points in enumerate(edge.points)
        for hold in day.shape.people
        if hold.first in points and hold.choices <= people
    )
    edge.model.add(work > room - enough)
    edge.model.maximize(work)
    solver = cp_model.CpSolver()
    set_limits(solver, limits)
    with Stopper(solver, limits.stop) as stopper:
        status = solver.solve(edge.model)
    if status == cp_model.MODEL_INVALID:
        raise ValueError("the model of an edge of the day is not valid")
    if status == cp_model.INFEASIBLE and not stopper.stopped:
        return enough
    most = round(solver.best_objective_bound)  # 0 also where the run ended before it knew any
    is_known = most > 0 or status == cp_model.OPTIMAL
    return room - most if is_known and most > room - enough else 0


def _edge(day: AlikeDay, until: int) -> _Edge:
    edge = _Edge(day, until)
    for k in range(day.count):
        kept = _before(day, k, until)
        if not kept or len(edge.points) > MOST_VISITS:
            break
        _add_visit(edge, k, kept | {day.turn})
    _one_thing_at_a_time(edge)
    return edge


def _before(day: AlikeDay, k: int, until: int) -> set[int]:
    """The points of the k-th visit at which people may be busy before that moment."""
    return {h.first for h in day.shape.people if day.reach(k, h.first)[0] + h.begins < until}


def _add_visit(edge: _Edge, k: int, kept: set[int]) -> None:
    """Its points at their distances, none before that of the visit before, and what it holds."""
    day, model = edge.day, edge.model
    points = {i: model.new_int_var(*day.reach(k, i), f"{k}.{i}") for i in sorted(kept)}
    for i in points:
        for j in points:
            if i != j and (least := day.shape.least[i][j]) is not None:
                model.add(points[j] >= points[i] + least)
    for i in points if k else ():
        model.add(points[i] >= edge.points[k - 1][i])
    if k >= day.abreast:
        model.add(points[day.turn] >= edge.points[k - day.abreast][day.turn] + day.apart)
    edge.points.append(points)
    _add_people(edge, points)
    for hold in day.shape.rigs:
        if hold.first in points and hold.last in points:
            edge.held[hold.choices].append(_interval(edge, points, hold))


def _add_people(edge: _Edge, points: dict[int, cp_model.IntVar]) -> None:
    """Who does what: one person each, and two for two roles at the same time."""
    model, at_once = edge.model, defaultdict(list)
    for hold in edge.day.shape.people:
        if hold.first in points:
            edge.held[hold.choices].append(_interval(edge, points, hold))
            begin, end, length = points[hold.first] + hold.begins, points[hold.first] + hold.ends, hold.length
            given = {r: model.new_bool_var("") for r in sorted(hold.choices)}
            model.add_exactly_one(given.values())
            for r, literal in given.items():
                edge.by_person[r].append(
                    model.new_optional_interval_var(begin, length, end, literal, f"person {r}")
                )
                at_once[hold.first, hold.begins, hold.ends, r].append(literal)
    for literals in at_once.values():
        if len(literals) > 1:
            model.add_at_most_one(literals)


def _interval(edge: _Edge, points: dict[int, cp_model.IntVar], hold: Hold) -> cp_model.IntervalVar:
    begin, end = points[hold.first] + hold.begins, points[hold.last] + hold.ends
    size = edge.model.new_int_var(0, 2 * edge.day.horizon, "") if hold.length is None else hold.length
    return edge.model.new_interval_var(begin, size, end, "held")


def _work(edge: _Edge, k: int, hold: Hold) -> cp_model.LinearExprT:
    """Steps of a piece of work that lie before the edge's end, or fewer."""
    assert hold.length is not None
    earliest, latest = edge.day.reach(k, hold.first)
    if latest + hold.ends <= edge.until:
        return hold.length
    if earliest + hold.begins >= edge.until:
        return 0
    model, begin = edge.model, edge.points[k][hold.first] + hold.begins
    work, has_begun = model.new_int_var(0, hold.length, "work"), model.new_bool_var("has begun")
    model.add(work <= edge.until - begin).only_enforce_if(has_begun)
    model.add(work == 0).only_enforce_if(~has_begun)
    model.add(begin <= edge.until).only_enforce_if(has_begun)
    model.add(begin >= edge.until).only_enforce_if(~has_begun)
    return work


def _one_thing_at_a_time(edge: _Edge) -> None:
    """Each person does one thing at a time, and of every union of rigs or people no more than there are."""
    model, supplies = edge.model, edge.day.supplies
    for r, intervals in edge.by_person.items():
        if supplies[r].many == 1:
            model.add_no_overlap([*intervals, *(one for one, _ in _closed(edge, r))])
    for union in unions(set(edge.held)):
        held = [one for choices, its in edge.held.items() if choices <= union for one in its]
        closed = [pair for r in sorted(union) for pair in _closed(edge, r)]
        intervals = [*held, *(one for one, _ in closed)]
        demands = [1] * len(held) + [many for _, many in closed]
        model.add_cumulative(intervals, demands, sum(supplies[r].many for r in union))


def _closed(edge: _Edge, r: int) -> list[tuple[cp_model.IntervalVar, int]]:
    """When a rig or person is not there, from long before the day to long after it."""
    supply = edge.day.supplies[r]
    return [
        (edge.model.new_fixed_size_interval_var(a, b - a, "closed"), supply.many)
        for a, b in away(supply.free, 3 * edge.day.horizon)
    ]
