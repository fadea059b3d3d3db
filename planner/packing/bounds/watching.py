"""What watching takes of people beyond the other work of the same visit, and how long after its end.

Who watches may serve the visit watched in whatever it wants meanwhile: tasks, blocks, bouts, clearing, and
another watch. So a watch adds only what none of that can fill.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from planner.packing.core import Distances, closure
from planner.packing.demands import gaps
from planner.packing.grid import Grid
from planner.timing.plan import PlannedActivity, VisitPlan

Piece = tuple[int, int, tuple[str, ...]]  # begins so long after the start, lasts so long, for these roles
_FROM_NOWHERE = Grid(datetime.fromtimestamp(0, UTC), 1)


def distances_of(plan: VisitPlan) -> Distances | None:
    """The least distances between the starts of all activities, in seconds; None where they disagree."""
    return closure(len(plan.activities), gaps(plan, _FROM_NOWHERE))


def pieces_of(activity: PlannedActivity) -> Iterator[Piece]:
    """What an activity takes of people, but for watching."""
    yield 0, activity.length_s, activity.staff
    if activity.clear:
        yield activity.length_s, activity.clear.takes_s, activity.clear.staff


def watching_seconds(plan: VisitPlan, roles: frozenset[str]) -> int:
    """What watches take of these people at least beyond the other work of the visit.

    Of watches that may run at the same time only those are counted that together take most without it.
    """
    counted: list[tuple[PlannedActivity, int]] = []  # a watched bout, and what is taken up to its watch
    for bout in _watched(plan, roles):
        before = (taken_s for other, taken_s in counted if _is_over_by(plan, other, bout))
        counted.append((bout, _alone_s(plan, bout, roles) + max(before, default=0)))
    return max((taken_s for _, taken_s in counted), default=0)


def beyond_seconds(plan: VisitPlan, roles: frozenset[str]) -> int:
    """How long people of these roles may still watch after the visit has ended, at most.

    A visit ends within opening hours; a watch need not.
    """
    return max((_beyond_s(plan, bout) for bout in _watched(plan, roles)), default=0)


def _watched(plan: VisitPlan, roles: frozenset[str]) -> list[PlannedActivity]:
    return [a for a in plan.activities if a.watch and roles.intersection(a.watch.staff)]


def _beyond_s(plan: VisitPlan, bout: PlannedActivity) -> int:
    ends_s = (_after_s(plan, bout, other) + other.length_s for other in plan.activities)
    return max(0, _for_s(bout) - max(0, *ends_s))


def _alone_s(plan: VisitPlan, bout: PlannedActivity, roles: frozenset[str]) -> int:
    """What the watch after that bout takes even where as much other work as can be falls into it."""
    assert bout.watch is not None
    many, meanwhile_s = len(roles.intersection(bout.watch.staff)), 0
    for other in plan.activities:
        for piece in pieces_of(other) if other.inside is None else ():
            served = min(many, len(roles.intersection(piece[2])))
            meanwhile_s += served * _within_s(plan, bout, other, piece)
    return max(0, many * bout.watch.for_s - meanwhile_s)


def _within_s(plan: VisitPlan, bout: PlannedActivity, other: PlannedActivity, piece: Piece) -> int:
    """Seconds of a piece of work, at most, from the end of that bout to the end of its watch."""
    begins_s, length_s, _ = piece
    most_s = min(length_s, _for_s(bout) - max(0, _after_s(plan, bout, other) + begins_s))
    found = distances_of(plan)
    ahead_s = found.at_least(other.index, bout.index) if found else None
    if ahead_s is not None:
        most_s = min(most_s, begins_s + length_s - ahead_s - bout.length_s)
    return max(0, most_s)


def _is_over_by(plan: VisitPlan, one: PlannedActivity, other: PlannedActivity) -> bool:
    """Whether the watch after `one` is over, whatever the plan, when `other` ends."""
    return _after_s(plan, one, other) + other.length_s >= _for_s(one)


def _after_s(plan: VisitPlan, bout: PlannedActivity, other: PlannedActivity) -> int:
    """The least from the end of the bout to the start of `other`; far below 0 where there is none."""
    found = distances_of(plan)
    least = found.at_least(bout.index, other.index) if found else None
    return (-plan.longest_s if least is None else least) - bout.length_s


def _for_s(bout: PlannedActivity) -> int:
    return bout.watch.for_s if bout.watch else 0
