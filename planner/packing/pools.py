"""Resources that are alike in everything counted as one with room for several; told apart afterwards.

Which of two alike rigs serves a block makes no difference to anything, and a solver that need not
decide it has less to do. Intervals that never overlap more than k deep can always be given to k rigs,
in order of their starts (interval graphs are perfect), as long as the rigs are free at the same times.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from planner.packing.core import Answer, Core, Resource, Use, Wants
from planner.packing.taken import overlaps, use_times


@dataclass(frozen=True)
class Pools:
    """A day whose alike resources are one (`core`, numbered as before), and which those are: first -> all."""

    core: Core
    members: Mapping[int, tuple[int, ...]]

    def join(self, answer: Answer) -> Answer:
        """The answer with every member of a pool called by the first one's number."""
        first = {r: pool for pool, members in self.members.items() for r in members}
        given = tuple(g if g is None else tuple(first.get(r, r) for r in g) for g in answer.given)
        return Answer(answer.starts, given)

    def part(self, answer: Answer) -> Answer:
        """The answer with a member of its own for every use of a pool."""
        given = [None if g is None else list(g) for g in answer.given]
        for pool, members in self.members.items():
            free_from = dict.fromkeys(members, -(10**9))
            for start, end, job, number in sorted(_times(self.core, answer, pool)):
                r = max((r for r in members if free_from[r] <= start), key=lambda r: (free_from[r], -r))
                free_from[r] = end
                its = given[job]
                assert its is not None
                its[number] = r
        return Answer(answer.starts, tuple(None if g is None else tuple(g) for g in given))


def pool(core: Core) -> Pools:
    """The day with resources pooled that no rule, wish or use tells apart."""
    told_apart = _told_apart(core)
    alike: dict[object, list[int]] = defaultdict(list)
    chosen_in: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for j, uses in enumerate(core.uses):
        for n, use in enumerate(uses):
            for r in use.choices:
                chosen_in[r].append((j, n))
    for r, resource in enumerate(core.resources):
        if r not in told_apart:
            alike[resource.is_person, resource.free, tuple(chosen_in[r])].append(r)
    members = {its[0]: tuple(its) for its in alike.values() if len(its) > 1 and chosen_in[its[0]]}
    return Pools(_pooled(core, members), members)


def _told_apart(core: Core) -> set[int]:
    """Resources of which it matters which one it is: kept, wished, prepared, watching or shared."""
    apart = {person for _, person in core.served_by}
    apart |= {job.prepares for job in core.jobs if job.prepares is not None}
    for uses in core.same:
        apart |= {r for j, n in uses for r in core.uses[j][n].choices}
    for uses_of_job in core.uses:
        for use in uses_of_job:
            if use.wants is Wants.WATCH or use.bout is not None:
                apart |= set(use.choices)
        apart |= _wanted_twice_at_once(uses_of_job)
    return apart


def _wanted_twice_at_once(uses: Sequence[Use]) -> set[int]:
    """Resources that two uses at the same time may choose: those two must be given two of them."""
    twice: set[int] = set()
    for n, use in enumerate(uses):
        for other in uses[n + 1 :]:
            if overlaps(use, other):
                twice |= set(use.choices) & set(other.choices)
    return twice


def _pooled(core: Core, members: Mapping[int, tuple[int, ...]]) -> Core:
    dropped = {r for its in members.values() for r in its[1:]}
    resources: list[Resource] = list(core.resources)
    for first, its in members.items():
        resources[first] = replace(resources[first], many=len(its))
    uses = tuple(
        tuple(replace(use, choices=tuple(r for r in use.choices if r not in dropped)) for use in its)
        for its in core.uses
    )
    return replace(core, resources=tuple(resources), uses=uses)


def _times(core: Core, answer: Answer, pool_number: int) -> list[tuple[int, int, int, int]]:
    """Start, end, job and number of every use of a pool."""
    found = []
    for j, (starts, given) in enumerate(zip(answer.starts, answer.given, strict=True)):
        for n, use in enumerate(core.uses[j]) if starts and given else ():
            if given and starts and given[n] == pool_number:
                found.append((*use_times(core, use, starts), j, n))
    return found
