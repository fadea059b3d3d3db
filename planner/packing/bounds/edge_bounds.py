"""How many alike visits a day could take at most, by what people must lose at its two edges.

What the visits take of people must fit into what is left when that is taken away. Longer edges lose more and
are harder to prove: they are tried from short to long, as long as there is time.
"""

from __future__ import annotations

import time
from dataclasses import replace

from planner.packing.bounds.arithmetic import unions
from planner.packing.bounds.edges import least_lost
from planner.packing.bounds.shapes import AlikeDay, alike_day, mirrored
from planner.packing.core import Core
from planner.packing.solve import Limits

SHARES = (0.6, 0.75, 0.83, 0.9, 0.96)  # of a visit's own length: how long the edges are
HOPELESS = 0.5  # of what would have to be lost: short edges that lose less are not tried longer


def most_by_edges(core: Core, most: int, least: int, limits: Limits) -> int:
    """At most so many visits: `most`, or fewer where that is proven in time; not below `least`."""
    until = time.monotonic() + limits.seconds
    if limits.until is not None:
        until = min(until, limits.until)
    while most > least and (day := alike_day(core, most)) is not None:
        if not _cannot_be(day, replace(limits, until=None if limits.workers == 1 else until)):
            break
        most -= 1
        if _spare(day) < HOPELESS * _spare(replace(day, count=most)):
            break
    return most


def _cannot_be(day: AlikeDay, limits: Limits) -> bool:
    """Whether it is proven that people have too little time left between the edges for all visits."""
    people, spare = _scarcest_people(day), _spare(day)
    lost = {day: 0, mirrored(day): 0}
    for share in SHARES:
        length = int(share * day.length)
        for edge, other in ((day, mirrored(day)), (mirrored(day), day)):
            if spare < lost[day] + lost[mirrored(day)]:
                return True
            if 2 * length > day.horizon or _is_over(limits):
                return False
            enough = spare + 1 - lost[other]
            part = replace(limits, seconds=limits.seconds / (2 * len(SHARES) if limits.workers == 1 else 3))
            lost[edge] = max(lost[edge], least_lost(edge, people, length, enough, part))
        if lost[day] + lost[mirrored(day)] < HOPELESS * spare:
            return False
    return spare < lost[day] + lost[mirrored(day)]


def _is_over(limits: Limits) -> bool:
    if limits.stop and limits.stop():
        return True
    return limits.until is not None and time.monotonic() >= limits.until


def _scarcest_people(day: AlikeDay) -> frozenset[int]:
    """The people who have the least time to spare for what they alone can do."""
    sets = unions({hold.choices for hold in day.shape.people})
    return min(sets, key=lambda people: day.room(people, 0, day.horizon) - day.load(people))


def _spare(day: AlikeDay) -> int:
    """The time that they have beyond what all visits take of them."""
    people = _scarcest_people(day)
    return day.room(people, 0, day.horizon) - day.load(people)
