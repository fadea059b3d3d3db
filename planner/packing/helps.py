"""What follows from the rules and makes the solver see it sooner; leaving any of it out changes no answer."""

from __future__ import annotations

from collections import defaultdict
from itertools import pairwise

from ortools.sat.python import cp_model

from planner.packing.away import counted_together
from planner.packing.bounds.alike import alike_jobs, sorted_activities
from planner.packing.core import Wants
from planner.packing.intervals import around_with, closed_spans, interval
from planner.packing.variables import Variables

MOST_UNIONS = 40
Members = dict[frozenset[int], list[tuple[int, int]]]
Shape = tuple[int, int, int, int, int, bool]  # job, first and last activity, lead, tail, from the end


def add_helps(v: Variables, *, order_alike: bool = True) -> None:
    """All of it. A hint is only kept to with `order_alike` where alike visits start in their order."""
    enough_of_every_union(v)
    if order_alike:
        alike_visits_in_order(v)


def enough_of_every_union(v: Variables) -> None:
    """For every union of what uses choose from: at each moment no more uses than free rigs or people.

    That is Hall's condition moment by moment; what may be shared inside a bout, and watches, stay out.
    """
    whole: dict[Shape, cp_model.IntervalVar] = {}
    for union, members in unions(unshared(v)):
        if len(union) > 1 and len(members) > len(union):
            _at_most(v, union, members, whole)


def unshared(v: Variables) -> dict[frozenset[int], list[tuple[int, int]]]:
    """The uses (job, number) that nobody else can serve at the same time, by what they choose from."""
    groups: dict[frozenset[int], list[tuple[int, int]]] = defaultdict(list)
    for number, use in v.uses():
        if use.wants is not Wants.WATCH and not any(around_with(v, use, r) for r in use.choices):
            groups[frozenset(use.choices)].append((use.job, number))
    return groups


def unions(groups: Members) -> list[tuple[frozenset[int], list[tuple[int, int]]]]:
    """Unions of sets that hang together, each with the uses that choose inside it; the small ones first."""
    found = dict.fromkeys(groups)
    for _ in groups:
        grown = {a | b for a in found for b in groups if a & b and a | b not in found}
        if not grown or len(found) + len(grown) > MOST_UNIONS:
            break
        found.update(dict.fromkeys(sorted(grown, key=lambda union: (len(union), sorted(union)))))
    return [
        (union, [one for choices, its in groups.items() if choices <= union for one in its])
        for union in found
    ]


def _at_most(
    v: Variables,
    union: frozenset[int],
    members: list[tuple[int, int]],
    whole: dict[Shape, cp_model.IntervalVar],
) -> None:
    """A cumulative whose capacity is the union's size; uses of one activity with one span count together."""
    together: dict[Shape, int] = defaultdict(int)
    for job, number in members:
        use = v.core.uses[job][number]
        shape = (job, use.first, use.last, use.lead, use.tail, use.from_end)
        together[shape] += 1
        if shape not in whole:
            whole[shape] = interval(v, use, number, v.placed[job])
    intervals, demands = [whole[shape] for shape in together], list(together.values())
    for start, end, closed in closed_together(v, union):
        intervals.append(v.model.new_fixed_size_interval_var(start, end - start, "closed"))
        demands.append(closed)
    v.model.add_cumulative(intervals, demands, sum(v.core.resources[r].many for r in union))


def closed_together(v: Variables, union: frozenset[int]) -> list[tuple[int, int, int]]:
    """How many of the union are closed from when to when, as one profile."""
    found = []
    for r in sorted(union):
        resource = v.core.resources[r]
        found += [(start, end, resource.many) for start, end in closed_spans(v, r)]
        found += [(start, end, 1) for start, end in resource.taken]
    return counted_together(found)


def alike_visits_in_order(v: Variables) -> None:
    """Visits that are alike do each thing in their order, and the later ones are left out first."""
    for jobs in alike_jobs(v.core):
        come = [j for j in jobs if v.start[j]]
        for a, b in pairwise(come):
            v.model.add_implication(v.placed[b], v.placed[a])
            for i in sorted_activities(v.core, come):
                v.model.add(v.start[a][i] <= v.start[b][i])
