"""How many visits a running day loses at least, by counting what rigs and people have left from now on."""

from __future__ import annotations

from dataclasses import replace

from planner.clock import seconds_between
from planner.packing.bounds.arithmetic import unions
from planner.packing.bounds.loads import needs
from planner.packing.core import Core, Resource
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
        room = sum(core.resources[r].many * _length(core.resources[r]) for r in union)
        room -= sum(load[j] for j in visits if core.jobs[j].must)
        lost = 0
        others = sorted(load[j] for j in visits if not core.jobs[j].must)
        while others and sum(others) > room:
            others.pop()
            lost += 1
        least = max(least, lost)
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


def _length(resource: Resource) -> int:
    return sum(high - low for low, high in resource.free)
