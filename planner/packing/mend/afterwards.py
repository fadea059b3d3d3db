"""Who clears and who stays after something that has begun: not begun themselves before it has ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime

from planner.clock import Interval
from planner.packing.mend.facts import afterwards
from planner.packing.mend.standing import Facts, Standing
from planner.packing.mend.study import from_now
from planner.schedule.model import Activity


def still_to_come(activities: Sequence[Activity], now: datetime) -> Iterator[Activity]:
    """Activities that have not begun, and those that run without the rigs and people that they have."""
    for one in activities:
        if one.start.timestamp() >= now.timestamp():
            yield one
        elif one.end.timestamp() >= now.timestamp():
            yield replace(one, rigs=(), staff={})


def is_elsewhere(name: str, after: Interval, standing: Standing, facts: Facts) -> bool:
    """Whether somebody has begun with another participant, who keeps them beyond the beginning of `after`.

    What they were to clear or watch ended sooner than planned, and they are still where the plan had them.
    """
    begun = [(s.by_index[i], s.end(i)) for s in facts.standings if s is not standing for i in s.begun]
    frozen = [one for visit in facts.frozen for one in visit.activities]
    begun += [(one, one.end) for one in frozen if one.start.timestamp() < facts.now.timestamp()]
    return any(
        busy.meets(after)
        for one, end in begun
        for person, busy in _begun_with(one, end, facts.now)
        if person == name
    )


def somebody_leaves(standing: Standing, facts: Facts) -> bool:
    """Whether somebody who clears or stays after what has begun is not there to the end of it."""
    return any(
        away.meets(after)
        for i in standing.begun
        for person, after in afterwards(standing, i)
        for away in from_now(facts.away, person, facts.now)
    )


def _begun_with(one: Activity, end: datetime, now: datetime) -> Iterator[tuple[str, Interval]]:
    """Each person of an activity that has begun with the time they have it; afterwards once it has ended."""
    yield from ((person, Interval(one.start, end)) for person in one.staff.values())
    if end.timestamp() < now.timestamp():
        yield from ((person, Interval(end, one.rig_free)) for person in one.clear_staff.values())
        if one.watch:
            yield from ((person, Interval(end, one.watch.end)) for person in one.watch.staff.values())
