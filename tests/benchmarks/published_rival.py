"""The same problems stated for PyJobShop, a general library on the same solver, to compare with.

Optional: `pip install -e '.[bench]'`. Nothing of the product depends on it.
"""

from __future__ import annotations

from itertools import pairwise

from published import Problem, Timetable
from pyjobshop import Model, SolveStatus

Outcome = tuple[Timetable | None, int | None, str]  # solution, bound, optimal | found | impossible | open


def solve(problem: Problem, *, seconds: float, workers: int, seed: int) -> Outcome:
    """What PyJobShop makes of it, stated with its own constraints and left to its own defaults."""
    model = Model()
    is_shop = bool(problem.chains)
    resources = [model.add_machine() if is_shop else model.add_renewable(room) for room in problem.capacity]
    tasks = [model.add_task() for _ in problem.tasks]
    ways = []
    for task, its in zip(tasks, problem.tasks, strict=True):
        for number, way in enumerate(its):
            used = [resources[r] for r, _ in way.takes]
            model.add_mode(task, used, way.length, None if is_shop else [n for _, n in way.takes])
            ways.append(number)
    for a, b, low in problem.lags:
        model.add_start_before_start(tasks[a], tasks[b], low)
    for chain in problem.chains:
        for a, b in pairwise(chain):
            model.add_end_before_start(tasks[a], tasks[b])
    result = model.solve(
        solver="ortools", time_limit=seconds, num_workers=workers, display=False, random_seed=seed
    )
    if result.status is SolveStatus.INFEASIBLE:
        return None, None, "impossible"
    if result.status not in (SolveStatus.OPTIMAL, SolveStatus.FEASIBLE):
        return None, None, "open"
    placed = result.best.tasks
    found = Timetable(tuple(t.start for t in placed), tuple(ways[t.mode] for t in placed))
    return found, round(result.lower_bound), "optimal" if result.status is SolveStatus.OPTIMAL else "found"
