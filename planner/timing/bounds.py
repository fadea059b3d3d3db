"""Exact bounds of one visit: `bounds(protocol) -> Bounds`. It needs no NumPy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

from planner.protocol.model import Manoeuvre, Protocol
from planner.timing.expand import Outline, Spot, expand
from planner.timing.plan import Link, Moment
from planner.timing.sequence import (
    Lengths,
    Pick,
    earliest,
    end_of_visit,
    latest,
    routine,
    start_times,
)


class Bounds(NamedTuple):
    """The shortest and the longest that the visit can be, in seconds."""

    shortest_s: int
    longest_s: int


def most_efforts(manoeuvre: Manoeuvre) -> int:
    """The most efforts a block can take: without a stop rule it takes `at_least`."""
    return manoeuvre.at_most if manoeuvre.enough else manoeuvre.at_least


def shortest_s(spot: Spot) -> int:
    """The least seconds that the spot can take."""
    if spot.manoeuvre is not None:
        return spot.manoeuvre.length_s(spot.manoeuvre.at_least)
    return spot.step.takes.shortest_s if spot.step.takes else spot.step.rest_s or 0


def longest_s(spot: Spot) -> int:
    """The most seconds that the spot can take (a rest: its length)."""
    if spot.manoeuvre is not None:
        return spot.manoeuvre.length_s(most_efforts(spot.manoeuvre))
    return spot.step.takes.longest_s if spot.step.takes else spot.step.rest_s or 0


def lengths_of(outline: Outline, whole: Callable[[Spot], int]) -> Lengths:
    """The lengths of all spots, as `whole` gives them, without delays."""
    prepare = [spot.manoeuvre.prepare_s if spot.manoeuvre else 0 for spot in outline.spots]
    return Lengths(prepare, [whole(spot) for spot in outline.spots], [0] * len(prepare))


def bounds(protocol: Protocol) -> Bounds:
    """The exact bounds of the visit.

    Every block and bout at its shortest (longest), each window at the end that makes the visit
    shortest (longest); a due step that the blocks before it push past its window starts as soon
    after as it can.
    """
    outline = expand(protocol)
    ready = routine(outline)
    short, long = lengths_of(outline, shortest_s), lengths_of(outline, longest_s)
    at_once = replace(ready, leading={}, pulls=())  # what stands before a step waits only where it must
    starts = _held_together(outline, short, start_times(at_once, short, earliest, Pick()))
    least = end_of_visit(outline, starts, short, Pick()) - starts[outline.chain[0]]
    starts = start_times(ready, long, latest, Pick())
    return Bounds(least, end_of_visit(outline, starts, long, Pick()))


def _held_together(outline: Outline, lengths: Lengths, starts: list[int]) -> list[int]:
    """The least starts that also keep every upper side of a window; the given ones where none do.

    Longest paths by sweeps in order (lower sides) and against it (upper sides): each sweep pair
    settles at least one upper side, so more pairs than there are upper sides means a contradiction.
    """
    uppers = [link for link in outline.links if link.high_s is not None]
    uppers.sort(key=lambda link: -link.later.activity)
    found = list(starts)
    for _ in range(len(uppers) + 1):
        if not _pull_back(uppers, lengths, found):
            return found
        _push_on(outline, lengths, found)
    return starts


def _pull_back(uppers: list[Link], lengths: Lengths, starts: list[int]) -> bool:
    moved = False
    for link in uppers:
        late = (
            _time(starts, lengths, *link.later) - (link.high_s or 0) - _time(starts, lengths, *link.earlier)
        )
        if late > 0:
            starts[link.earlier.activity] += late
            moved = True
    return moved


def _push_on(outline: Outline, lengths: Lengths, starts: list[int]) -> None:
    lowers = sorted(outline.links, key=lambda link: (link.later.activity, link.earlier.activity))
    for link in lowers:
        if link.low_s is None or link.earlier.activity == link.later.activity:
            continue
        early = _time(starts, lengths, *link.earlier) + link.low_s - _time(starts, lengths, *link.later)
        if early > 0 and link.later.moment is not Moment.END:
            starts[link.later.activity] += early


def _time(starts: list[int], lengths: Lengths, activity: int, moment: Moment) -> int:
    more = {
        Moment.START: 0,
        Moment.FIRST_EFFORT: lengths.prepare[activity],
        Moment.END: lengths.whole[activity],
    }
    return starts[activity] + int(more[moment])
