"""What of a visit that has begun can no longer be done at all, whatever the others do."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from planner.packing.mend.ring import RingSearch
from planner.packing.mend.runs import cut_at_need
from planner.packing.mend.standing import Facts, Standing
from planner.timing.plan import Why

ONE_S = 0.5  # for one visit by itself, which takes a moment


def give_up_undone(rings: RingSearch) -> int:
    """Gives up what visits that have begun can no longer do even if nobody else were there.

    Only where it is proven: a rig that is out for the rest of the day, a block of a bout that is over before
    its rig is back, what was to follow a bout that cannot be done. The rest of the visit stays. Returns how
    many time points and steps were given up of which it is not proven that every plan must.
    """
    unsure = 0
    for standing in rings.facts.standings:
        if standing.begun and standing.is_hit and _is_impossible(rings, standing):
            unsure += 0 if _with_other_rigs(rings, standing) else _give_up(rings, standing)
    return unsure


def _with_other_rigs(rings: RingSearch, standing: Standing) -> bool:
    """Whether the visit can be done once other rigs may go on with runs of blocks whose own rig fails."""
    known = rings.facts
    more = cut_at_need(standing, known.out, known.now) - standing.split
    standing.split.update(more)
    if more and not _is_impossible(rings, standing):
        standing.must_change = True
        return True
    return False


def time_points(standing: Standing, some: Collection[int]) -> int:
    """How many time points, and steps without any, these activities belong to."""
    activities = standing.plan.activities
    return len({(activities[i].step, activities[i].at_s) for i in some})


def _give_up(rings: RingSearch, standing: Standing) -> int:
    """Puts back one activity after another as long as the visit can still be done."""
    still, before = standing.free(), set(standing.gone)
    standing.gone.update(still)
    standing.is_left = _is_impossible(rings, standing)  # with nothing left of it but what has begun
    for index in sorted(still, key=lambda i: (standing.plan.activities[i].inside is not None, i)):
        if not _puts_back(rings, standing, index):
            standing.gone.add(index)
    given_up = standing.gone - before
    if not given_up:
        return 0
    standing.must_change = True
    surely = [i for i in given_up if _never_fits(rings, standing, i, {*before, *still})]
    return time_points(standing, given_up) - max(1, time_points(standing, surely))


def _puts_back(rings: RingSearch, standing: Standing, index: int) -> bool:
    """Whether the visit can be done with this activity too; a bout comes before the blocks in it."""
    if index in _without_anchor(standing):
        return False
    standing.gone.discard(index)
    return not _is_impossible(rings, standing)


def _never_fits(rings: RingSearch, standing: Standing, index: int, rest: Collection[int]) -> bool:
    """Whether this activity finds no place even where all the rest that is still to come is left out."""
    alone = replace(standing, gone=set(rest) - {index})
    return index in _without_anchor(standing) or _is_impossible(rings, alone)


def _without_anchor(standing: Standing) -> set[int]:
    """What is counted from something that cannot happen: a measure after a bout is none without it."""
    found: set[int] = set()
    for index, owner in _counted_from(standing):
        if index in standing.gone:
            found |= {a.index for a in standing.plan.activities if (a.step, a.at_s) == owner}
    return found


def _counted_from(standing: Standing) -> Iterator[tuple[int, tuple[str, int | None]]]:
    """Each anchor of a time point after it, and the step and time of that time point."""
    for link in standing.plan.links:
        later = standing.plan.activities[link.later.activity]
        if link.why is Why.DUE and later.at_s == link.target_s:
            yield link.earlier.activity, (later.step, later.at_s)


def _is_impossible(rings: RingSearch, standing: Standing) -> bool:
    """Whether it is proven that the visit finds no place with nobody else about."""
    alone: Facts = replace(rings.facts, standings=(standing,), frozen=())
    found = replace(rings, facts=alone, stop=None).best([standing], ONE_S, any_will_do=True)
    return found.found is None and found.is_settled
