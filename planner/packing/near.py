"""How far apart two visits of one participant may be on one day, and which never share a day."""

from __future__ import annotations

from collections.abc import Sequence

from planner.clock import seconds_between
from planner.packing.busy_times import FAR
from planner.packing.core import Core
from planner.packing.grid import Grid
from planner.packing.problem import DayProblem
from planner.study.model import Study, Visit

NEVER = -1  # steps after the first: the second would have to start before it


def near_visits(
    problem: DayProblem, grid: Grid, in_turn: Sequence[tuple[int, int]]
) -> tuple[tuple[int, int, int], ...]:
    """Of visits that follow each other on the day: how many steps later the second starts at most.

    NEVER where days must lie between the second and whatever visit comes before it.
    """
    found = []
    for a, b in in_turn:
        one, two = problem.visits[a], problem.visits[b]
        width = problem.study.same_time_of_day_s
        if two.gap is not None and two.gap.at_least > 0:
            found.append((a, b, NEVER))
        elif width is not None and _is_timed(problem.study, one) and _is_timed(problem.study, two):
            found.append((a, b, grid.down(width + _clocks_move_s(problem))))
    return tuple(found)


def _is_timed(study: Study, visit: Visit) -> bool:
    """Whether it is held to a time of day: visits with conditions are, and all where none has any."""
    return visit.condition is not None or not any(kind.conditions for kind in study.kinds)


def _clocks_move_s(problem: DayProblem) -> int:
    """By how much time on the wall and time that passes may differ on the day: a room for both ways."""
    hours = problem.study.open.get(problem.day, ())
    if not hours:
        return 0
    first, last = hours[0].start, hours[-1].end
    passed_s = seconds_between(first, last)
    return abs(passed_s - int((last.replace(tzinfo=None) - first.replace(tzinfo=None)).total_seconds()))


def near_starts(core: Core, starts: Sequence[tuple[int, ...] | None], j: int) -> tuple[int, int]:
    """From when to when job j may start so as to be near those of its participant that have a place."""
    low, high = -FAR, FAR
    for a, b, most in core.near:
        if b == j and (first := starts[a]) is not None:
            high = min(high, first[core.jobs[a].first] + most)
        if a == j and (second := starts[b]) is not None:
            low = max(low, second[core.jobs[b].first] - most)
    return low, high
