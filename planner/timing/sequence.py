"""When each spot starts, once every length is known: the one place of "at `at`, or as soon after as can be".

Works on whole seconds and on columns of draws alike: the two functions in `Pick` are the built-in
`max` and `min`, or NumPy's, element by element.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from planner.timing.expand import Outline, Spot
from planner.timing.plan import Kind, Link, Moment, Why

Seconds = Any  # an int, or an array of floats with one element a draw
Distance = Callable[[Link], int]


@dataclass(frozen=True, slots=True)
class Pick:
    """The larger and the smaller of two values."""

    larger: Callable[[Any, Any], Any] = max
    smaller: Callable[[Any, Any], Any] = min


@dataclass(frozen=True, slots=True)
class Lengths:
    """Seconds of preparing and of the whole of each spot, and how long after it could a spot starts.

    `late`: how long after it is due and could, for spots with a due time (none: on the second).
    """

    prepare: Sequence[Seconds]
    whole: Sequence[Seconds]
    delay: Sequence[Seconds]
    late: Sequence[Seconds] = ()


def written(link: Link) -> int:
    """The distance that the protocol writes: its `at`."""
    return link.target_s or 0


def earliest(link: Link) -> int:
    """The least distance that the window allows; never a negative one, which the order rules out."""
    return max(0, link.low_s or 0)


def latest(link: Link) -> int:
    """The greatest distance that the window allows."""
    return link.high_s or 0


@dataclass(frozen=True, slots=True)
class Routine:
    """An outline sorted for laying out: for each spot the windows that hold it back.

    `counted` are windows counted from an earlier anchor; `holding` those of `before` time points
    that the spot named by `before` waits for; `leading` the same seen from a later `before`
    occurrence: where it should end, going by the ones before it. `together` gives the spots of the
    occurrence of each spot, `free` those that may wait.
    """

    outline: Outline
    counted: dict[int, list[Link]]
    holding: dict[int, list[Link]]
    leading: dict[int, list[tuple[Link, Link]]]
    pulls: tuple[Link, ...]
    together: dict[int, tuple[int, ...]]
    free: frozenset[int]


def routine(outline: Outline) -> Routine:
    """The outline, sorted once for any number of layouts."""
    counted: dict[int, list[Link]] = {}
    holding: dict[int, list[Link]] = {}
    leading: dict[int, list[tuple[Link, Link]]] = {}
    together = _occurrences(outline)
    for window in outline.windows:
        owner = outline.owner(window)
        if owner == window.later.activity:
            counted.setdefault(owner, []).append(window)
            continue
        target = window.later.activity
        first = together[owner][0]
        leading[first] = [(other, window) for other in holding.get(target, [])]
        holding.setdefault(target, []).append(window)
    pulls = [window for windows in holding.values() for window in windows]
    pulls += [link for link in outline.links if link.why is Why.STARTS_WITHIN]
    pulls.sort(key=lambda link: -link.earlier.activity)
    return Routine(outline, counted, holding, leading, tuple(pulls), together, _free(outline))


def _occurrences(outline: Outline) -> dict[int, tuple[int, ...]]:
    groups: dict[int, list[int]] = {}
    for index in outline.chain:
        groups.setdefault(outline.spots[index].occurrence, []).append(index)
    return {index: tuple(group) for group in groups.values() for index in group}


def _is_known(spot: Spot) -> bool:
    return spot.step.takes is None or spot.step.takes.is_known


def _free(outline: Outline) -> frozenset[int]:
    """Spots that may wait: not due after anything, nothing due after them, nothing limits their wait."""
    held = {index for index in outline.chain if outline.spots[index].kind is Kind.BOUT}
    held |= outline.within.keys() | {i for i in outline.chain if not _is_known(outline.spots[i])}
    for link in outline.links:
        if link.why is Why.STARTS_WITHIN:
            held.add(link.later.activity)
        elif link.why is Why.DUE:
            held.add(link.later.activity)
            if outline.owner(link) != link.earlier.activity:
                held.add(link.earlier.activity)
    return frozenset(outline.chain) - held


def start_times(ready: Routine, lengths: Lengths, distance: Distance, pick: Pick) -> list[Seconds]:
    """The start of each spot, counted from the visit's.

    Due steps start at their distance, or as soon after as what stands before them allows; other
    steps at once; the step that a `before` names waits until the gap is reached. Afterwards, what
    would wait too long for a step pushed back by others is drawn towards it.
    """
    starts = _forward(ready, lengths, distance, pick)
    if ready.pulls:
        _draw_together(ready, lengths, distance, pick, starts)
        first = starts[ready.outline.chain[0]]
        starts = [start - first for start in starts]
    return starts


def end_of_visit(outline: Outline, starts: Sequence[Seconds], lengths: Lengths, pick: Pick) -> Seconds:
    """The last end: of the last spot on the chain, or of a block that outlasts the bout around it."""
    return _end_on_chain(outline, outline.chain[-1], starts, lengths, pick)


def moment_of(starts: Sequence[Seconds], lengths: Lengths, activity: int, moment: Moment) -> Seconds:
    """When that moment of a spot is."""
    if moment is Moment.START:
        return starts[activity]
    more = lengths.prepare if moment is Moment.FIRST_EFFORT else lengths.whole
    return starts[activity] + more[activity]


def _forward(ready: Routine, lengths: Lengths, distance: Distance, pick: Pick) -> list[Seconds]:
    outline = ready.outline
    starts: list[Seconds] = []
    before: dict[int | None, int] = {}  # the spot before, on the chain (None) and inside each bout
    for spot in outline.spots:
        start: Seconds = 0
        if spot.inside is not None:
            start = starts[spot.inside]
        if spot.inside in before:
            start = _end_on_chain(outline, before[spot.inside], starts, lengths, pick)
        start = free = start + lengths.delay[spot.index]
        for link in ready.counted.get(spot.index, ()):
            due = moment_of(starts, lengths, *link.earlier) + distance(link)
            if link.later.moment is Moment.FIRST_EFFORT:
                due = due - lengths.prepare[spot.index]
            start = pick.larger(start, due)
        if lengths.late and spot.index in ready.counted:  # whoever is early still comes after what is before
            start = pick.larger(free, start + lengths.late[spot.index])
        for link in ready.holding.get(spot.index, ()):
            start = pick.larger(start, moment_of(starts, lengths, *link.earlier) + distance(link))
        for other, own in ready.leading.get(spot.index, ()):
            named = moment_of(starts, lengths, *other.earlier) + distance(other)
            start = pick.larger(start, named - distance(own) - _together(ready, own, lengths))
        starts.append(start)
        before[spot.inside] = spot.index
    return starts


def _together(ready: Routine, window: Link, lengths: Lengths) -> Seconds:
    """Seconds of all blocks of a `before` occurrence, one after the other."""
    return sum(lengths.whole[index] for index in ready.together[window.earlier.activity])


def _end_on_chain(
    outline: Outline, index: int, starts: Sequence[Seconds], lengths: Lengths, pick: Pick
) -> Seconds:
    """When the participant is free again: blocks that outlast their bout are finished first."""
    end = starts[index] + lengths.whole[index]
    for inside in outline.within.get(index, ()):
        if not outline.spots[inside].falls_away:
            end = pick.larger(end, starts[inside] + lengths.whole[inside])
    return end


def _draw_together(
    ready: Routine, lengths: Lengths, distance: Distance, pick: Pick, starts: list[Seconds]
) -> None:
    """Shift right what ends too long before the step that counts it, as far as there is room.

    A `before` occurrence wants its gap to be as written; what a `starts_within` counts from wants
    the gap to be no longer than that.
    """
    for link in ready.pulls:
        wish = latest(link) if link.why is Why.STARTS_WITHIN else distance(link)
        late = moment_of(starts, lengths, *link.later) - wish - moment_of(starts, lengths, *link.earlier)
        late = pick.larger(late, late * 0)
        group = ready.together[link.earlier.activity]
        if ready.free.issuperset(group):
            room = _room(ready, group[-1], lengths, pick, starts)
            _shift(ready, group, pick.smaller(late, room), lengths, pick, starts)


def _room(ready: Routine, index: int, lengths: Lengths, pick: Pick, starts: Sequence[Seconds]) -> Seconds:
    """By how many seconds the spot may end later without moving anything that is held in place."""
    chain = ready.outline.chain
    place = chain.index(index) + 1
    between: Seconds = 0
    while place < len(chain) and chain[place] in ready.free:
        between = between + lengths.whole[chain[place]]
        place += 1
    limit = starts[chain[place]] if place < len(chain) else starts[index]
    room = limit - between - starts[index] - lengths.whole[index]
    return pick.larger(room, room * 0)


def _shift(
    ready: Routine, group: Sequence[int], by: Seconds, lengths: Lengths, pick: Pick, starts: list[Seconds]
) -> None:
    """Move the spots of one occurrence; free spots after it start when it has ended."""
    for index in group:
        starts[index] = starts[index] + by
    place = ready.outline.chain.index(group[-1])
    for before, after in pairwise(ready.outline.chain[place:]):
        if after not in ready.free:
            return
        starts[after] = pick.larger(starts[after], starts[before] + lengths.whole[before])
