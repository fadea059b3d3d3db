"""Opening hours, availability, shifts, breaks, absences and outages: what lies outside breaks a rule.

A mended plan may name what has begun and can no longer end sooner: that is warned of.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from planner.schedule.changes import RUNS_OVER
from planner.schedule.model import Broken
from planner.schedule.repacked import is_listed
from planner.schedule.rules.case import Case, clock
from planner.schedule.rules.outside import (
    Outside,
    outside,
    outside_availability,
    outside_opening,
    outside_outages,
    outside_shifts,
)


def _is_named(one: Outside, case: Case) -> bool:
    """Whether a mended plan lists all of it as what has begun and lasts too long."""
    if one.visit is None or not one.activities:
        return False
    placed = one.visit.placed
    return all(is_listed(case.schedule, RUNS_OVER, placed, its.step, its.at_s) for its in one.activities)


def _unnamed(part: Callable[[Case], Iterator[Outside]], case: Case) -> Iterator[Broken]:
    yield from (one.broken for one in part(case) if not _is_named(one, case))


def opening(case: Case) -> Iterator[Broken]:
    """Each visit lies on an open day, inside its opening hours, clearing included."""
    yield from _unnamed(outside_opening, case)


def availability(case: Case) -> Iterator[Broken]:
    """Each visit lies inside one line of the participant's availability."""
    yield from _unnamed(outside_availability, case)


def shifts(case: Case) -> Iterator[Broken]:
    """Nobody serves outside the shift, in a break, or while absent."""
    yield from _unnamed(outside_shifts, case)


def outages(case: Case) -> Iterator[Broken]:
    """No rig serves while it is out of use, clearing included."""
    yield from _unnamed(outside_outages, case)


def runs_over(case: Case) -> Iterator[Broken]:
    """A warning of each that a mended plan names: it had begun, and could not end sooner."""
    yield from (one.broken for one in outside(case) if _is_named(one, case))


def start_range(case: Case) -> Iterator[Broken]:
    """A visit starts when such a visit may start, on the wall clock, both ends included."""
    for visit in case.visits:
        allowed = visit.asked.start if visit.asked else None
        start = visit.placed.start
        if allowed and not allowed.from_ <= start.time() <= allowed.to:
            yield visit.broken("start", f"it starts at {clock(start)}; such a visit may start from {allowed}")


RULES = (opening, availability, start_range, shifts, outages)
