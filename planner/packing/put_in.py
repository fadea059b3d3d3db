"""One visit put into a day that is partly full, in an instant: the earliest place that was found."""

from __future__ import annotations

from planner.packing.greedy import greedy
from planner.packing.problem import DayProblem
from planner.packing.realise import placed_visits, rig_tasks
from planner.packing.translate import translate
from planner.schedule.model import PlacedVisit, RigTask


def put_in(problem: DayProblem) -> tuple[PlacedVisit, tuple[RigTask, ...]] | None:
    """The problem's one visit where it fits first, and the tasks of rigs that it is the first to use.

    None where no place was found; that proves nothing.
    """
    core, grid = translate(problem)
    answer = greedy(core, rounds=1, seed=problem.study.seed)
    visits = placed_visits(problem, core, grid, answer)
    if not visits or not _after_checks(visits[0], problem):
        return None
    return visits[0], rig_tasks(core, grid, answer)


def _after_checks(visit: PlacedVisit, problem: DayProblem) -> bool:
    """Whether the visit uses each rig only after the task that the rig's day already has."""
    ends = {task.rig: task.end.timestamp() for task in problem.frozen_tasks}
    return all(
        activity.start.timestamp() >= ends.get(rig, 0.0)
        for activity in visit.activities
        for rig in activity.rigs
    )
