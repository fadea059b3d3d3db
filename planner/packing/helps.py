"""What follows from the rules and makes the solver see it sooner; leaving any of it out changes no answer."""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations, pairwise

from planner.packing.core import Wants
from planner.packing.intervals import around_with, closed_times, interval
from planner.packing.variables import Variables

MOST_UNIONS = 40


def add_helps(v: Variables, *, order_alike: bool = True) -> None:
    """All of it. A hint is only kept to with `order_alike` where alike visits start in their order."""
    enough_of_every_union(v)
    if order_alike:
        alike_visits_in_order(v)


def enough_of_every_union(v: Variables) -> None:
    """For every union of what uses choose from: at each moment no more uses than free rigs or people.

    That is Hall's condition moment by moment; what may be shared inside a bout, and watches, stay out.
    """
    groups: dict[tuple[int, ...], list[tuple[int, int]]] = defaultdict(list)
    for number, use in v.uses():
        if use.wants is not Wants.WATCH and not any(around_with(v, use, r) for r in use.choices):
            groups[tuple(sorted(use.choices))].append((use.job, number))
    for union in unions(list(groups)):
        members = [one for choices, its in groups.items() if set(choices) <= union for one in its]
        if len(union) > 1 and len(members) > len(union):
            _at_most(v, union, members)


def unions(choices: list[tuple[int, ...]]) -> list[frozenset[int]]:
    """The distinct unions of these sets; of few sets at a time where there are many."""
    found: dict[frozenset[int], None] = {}
    sets = [frozenset(one) for one in choices]
    for size in range(1, len(sets) + 1):
        for some in combinations(sets, size):
            found.setdefault(frozenset().union(*some))
            if len(found) >= MOST_UNIONS:
                return list(found)
    return list(found)


def _at_most(v: Variables, union: frozenset[int], members: list[tuple[int, int]]) -> None:
    """A cumulative whose capacity is the union's size; uses of one activity with one span count together."""
    together: dict[tuple[int, int, int, int, int, bool], list[int]] = defaultdict(list)
    for job, number in members:
        use = v.core.uses[job][number]
        together[job, use.first, use.last, use.lead, use.tail, use.from_end].append(number)
    intervals, demands = [], []
    for (job, *_), numbers in together.items():
        intervals.append(interval(v, v.core.uses[job][numbers[0]], numbers[0], v.placed[job]))
        demands.append(len(numbers))
    for r in union:
        closed = closed_times(v, r)
        intervals += closed
        demands += [1] * len(closed)
    v.model.add_cumulative(intervals, demands, len(union))


def alike_visits_in_order(v: Variables) -> None:
    """Visits that are alike in everything start in their order, and the later ones are left out first."""
    alike: dict[object, list[int]] = defaultdict(list)
    for j, job in enumerate(v.core.jobs):
        if job.alike is not None and v.start[j]:
            alike[job.alike].append(j)
    for jobs in alike.values():
        for a, b in pairwise(jobs):
            v.model.add_implication(v.placed[b], v.placed[a])
            first = v.core.jobs[a].first
            v.model.add(v.start[a][first] <= v.start[b][first])
