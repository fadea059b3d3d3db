"""Arithmetic before any solver: what cannot fit, whatever the order."""

from __future__ import annotations

from planner.packing.bounds.ends import Ends
from planner.packing.bounds.loads import needs
from planner.packing.core import Core, closure, stretched


def most_placed(core: Core) -> int:
    """The most visits that any day of these could take: by their number, and by minutes of rigs and people.

    For every union of what uses choose from: the visits that want least of it are counted until its
    free time is used up. Musts are not asked for here.
    """
    can_come = [j for j in core.visits() if core.jobs[j].within]
    most = len(can_come) if core.most is None else min(core.most, len(can_come))
    wanted = {j: needs(core, j) for j in can_come}
    for union in unions({choices for its in wanted.values() for choices in its}):
        loads = sorted(sum(load for choices, load in wanted[j].items() if choices <= union) for j in can_come)
        most = min(most, fitting(loads, _room(core, union)))
    ends = Ends(core, can_come)
    while most and ends.last_work(most) > core.horizon:
        most -= 1
    return most


def earliest_last_end(core: Core) -> int:
    """The least step at which the last visit can end, where all that can come do."""
    can_come = [j for j in core.visits() if core.jobs[j].within]
    alone = 0
    for j in can_come:
        job = core.jobs[j]
        distances = closure(len(job.lengths), stretched(job))
        least = (distances.at_least(job.first, job.last) or 0) if distances else 0
        alone = max(alone, min(begin for begin, _ in job.within) + least + job.lengths[job.last])
    return max(alone, Ends(core, can_come).last_end(len(can_come)))


def fitting(loads: list[int], room: int) -> int:
    """How many of the loads, the smallest first as given, fit into the room together."""
    count, total = 0, 0
    for load in loads:
        total += load
        if total > room:
            break
        count += 1
    return count


def _room(core: Core, union: frozenset[int]) -> int:
    """Steps of free time of a union of resources."""
    return sum(
        core.resources[r].many * sum(end - start for start, end in core.resources[r].free) for r in union
    )


def unions(sets: set[frozenset[int]], most: int = 200) -> list[frozenset[int]]:
    """Unions of sets that hang together, the sets themselves first; not more than `most`."""
    ordered = sorted(sets, key=sorted)
    found = dict.fromkeys(ordered)
    for _ in ordered:
        grown = {a | b for a in found for b in ordered if a & b and a | b not in found}
        if not grown or len(found) + len(grown) > most:
            break
        found.update(dict.fromkeys(sorted(grown, key=lambda union: (len(union), sorted(union)))))
    return list(found)
