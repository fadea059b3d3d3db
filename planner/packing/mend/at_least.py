"""How many visits a running day loses at least, by counting what rigs and people have left from now on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.clock import seconds_between
from planner.packing.bounds.arithmetic import fitting, unions
from planner.packing.bounds.loads import needs
from planner.packing.core import Core, Resource, Span, closure
from planner.packing.mend.core import RunningDay


def least_lost(day: RunningDay) -> int:
    """No mended day loses fewer; `day` is the one in which everybody may change.

    For every set of rigs and people that visits choose from: what visits in the house still want of it is
    taken from its free time, and of the others those that want least are counted until it is used up.
    """
    core = _still_to_come(day)
    visits = range(len(day.facts.standings))
    wanted = {j: needs(core, j) for j in visits}
    least = 0
    for union in unions({choices for its in wanted.values() for choices in its}):
        load = {j: sum(s for choices, s in wanted[j].items() if choices <= union) for j in visits}
        span = _when(core, visits, union)
        room = sum(core.resources[r].many * _length(core.resources[r], span) for r in union)
        room -= sum(load[j] for j in visits if core.jobs[j].must)
        others = sorted(load[j] for j in visits if not core.jobs[j].must)
        least = max(least, len(others) - fitting(others, room))
    return least


def _still_to_come(day: RunningDay) -> Core:
    """The day without what has begun, and its rigs and people without the time that is over."""
    core = day.core
    soonest = day.grid.up(seconds_between(day.grid.origin, day.facts.now))
    soonest -= max((use.lead for its in core.uses for use in its), default=0)
    begun = [standing.begun for standing in day.facts.standings]
    uses = tuple(
        tuple(use for use in its if j >= len(begun) or use.first not in begun[j])
        for j, its in enumerate(core.uses)
    )
    return replace(core, uses=uses, resources=tuple(_from(one, soonest) for one in core.resources))


def _from(resource: Resource, soonest: int) -> Resource:
    free = tuple((max(low, soonest), high) for low, high in resource.free if high > soonest)
    return replace(resource, free=free)


def _when(core: Core, visits: Sequence[int], union: frozenset[int]) -> Span:
    """From when until when visits can have these at all, with what comes before and after in its place."""
    low, high = core.horizon, 0
    for j in visits:
        job = core.jobs[j]
        distances = closure(len(job.lengths), job.gaps)
        if distances is None or not job.within:
            continue
        for use in core.uses[j]:
            if not union.issuperset(use.choices):
                continue
            before = distances.at_least(job.first, use.first) or 0
            after = (distances.at_least(use.last, job.last) or 0) + job.lengths[job.last]
            low = min(low, min(begin for begin, _ in job.within) + before - use.lead)
            ends = max(end for _, end in job.within) - after + job.lengths[use.last]
            high = max(high, ends + use.tail)
    return low, high


def _length(resource: Resource, within: Span) -> int:
    return sum(max(0, min(high, within[1]) - max(low, within[0])) for low, high in resource.free)
