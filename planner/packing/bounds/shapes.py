"""A day of visits that are alike but for when they may come, and the same day seen from its end.

A visit is reduced to points in time (the starts of its activities) with least distances between them, what
it takes of people and rigs around those points, and the activity that it turns on: the one with the scarcest
rig.
Whatever is left out (who must stay with whom, who may come when) could only make it harder.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace
from functools import lru_cache

from planner.packing.bounds.ends import of_choices, scarcest, taken_by
from planner.packing.bounds.loads import may_share
from planner.packing.core import Core, Span, Use, closure, stretched


@dataclass(frozen=True)
class Hold:
    """One of `choices` is held from `begins` after the first point to `ends` after the last."""

    first: int
    begins: int
    last: int
    ends: int
    choices: frozenset[int]

    @property
    def length(self) -> int | None:
        """How long it lasts; None where that depends on the distance of two points."""
        return self.ends - self.begins if self.first == self.last else None


@dataclass(frozen=True)
class Shape:
    """What one visit is: distances between its points, earliest and latest step of each, what it holds."""

    least: tuple[tuple[int | None, ...], ...]
    earliest: tuple[int, ...]
    latest: tuple[int, ...]
    people: tuple[Hold, ...]
    rigs: tuple[Hold, ...]


@dataclass(frozen=True)
class Supply:
    """So many alike rigs or people, free within those spans."""

    many: int
    free: tuple[Span, ...]
    is_person: bool

    def room(self, start: int, end: int) -> int:
        """Steps of them between two moments."""
        return self.many * sum(max(0, min(end, b) - max(start, a)) for a, b in self.free)


@dataclass(frozen=True)
class AlikeDay:
    """`count` visits of one shape that turn at `turn`: the k-th and (k + abreast)-th at least `apart`."""

    horizon: int
    count: int
    shape: Shape
    supplies: tuple[Supply, ...]
    turn: int
    apart: int
    abreast: int

    @property
    def length(self) -> int:
        """Steps from the start of a visit to that of its last activity, at least."""
        return max(least for row in self.shape.least for least in row if least is not None)

    @property
    def is_too_full(self) -> bool:
        """Whether some point of some visit has no step at all, so that not all of them fit."""
        return any(
            low > high
            for k in range(self.count)
            for low, high in (self.reach(k, i) for i in range(len(self.shape.least)))
        )

    def room(self, people: frozenset[int], start: int, end: int) -> int:
        """Steps that these people have between two moments."""
        return sum(self.supplies[r].room(start, end) for r in people)

    def load(self, people: frozenset[int]) -> int:
        """Steps that all visits take of those people alone."""
        return self.count * sum(
            hold.ends - hold.begins for hold in self.shape.people if hold.choices <= people
        )

    def turns(self, k: int) -> Span:
        """The earliest and latest step at which the k-th visit turns."""
        after = (self.count - 1 - k) // self.abreast
        low = self.shape.earliest[self.turn] + k // self.abreast * self.apart
        return low, self.shape.latest[self.turn] - after * self.apart

    def reach(self, k: int, point: int) -> Span:
        """The earliest and latest step of a point of the k-th visit."""
        low, high = self.turns(k)
        onward, back = self.shape.least[self.turn][point], self.shape.least[point][self.turn]
        return (
            max(self.shape.earliest[point], low + onward if onward is not None else 0),
            min(self.shape.latest[point], high - back if back is not None else self.horizon),
        )


def alike_day(core: Core, count: int) -> AlikeDay | None:
    """The day with `count` of its visits; None where they differ in more than when they may come."""
    jobs = [j for j in core.visits() if core.jobs[j].within]
    if not jobs or len({_likeness(core, j) for j in jobs}) != 1 or (choices := scarcest(core, jobs)) is None:
        return None
    shape = _shape(core, jobs)
    turn = max(of_choices(core, jobs[0], choices), key=lambda use: taken_by(core, use))
    if shape is None or not shape.people:
        return None
    supplies = tuple(Supply(r.many, tuple(sorted(r.free)), r.is_person) for r in core.resources)
    abreast = sum(core.resources[r].many for r in choices)
    return AlikeDay(core.horizon, count, shape, supplies, turn.first, taken_by(core, turn), abreast)


@lru_cache(maxsize=8)
def mirrored(day: AlikeDay) -> AlikeDay:
    """The same day from its end: what is late is early, and the last visit is the first."""
    shape, end = day.shape, day.horizon
    return replace(
        day,
        shape=Shape(
            tuple(zip(*shape.least, strict=True)),
            tuple(end - step for step in shape.latest),
            tuple(end - step for step in shape.earliest),
            tuple(map(_mirrored, shape.people)),
            tuple(map(_mirrored, shape.rigs)),
        ),
        supplies=tuple(
            replace(one, free=tuple((end - b, end - a) for a, b in reversed(one.free)))
            for one in day.supplies
        ),
    )


def _mirrored(hold: Hold) -> Hold:
    return Hold(hold.last, -hold.ends, hold.first, -hold.begins, hold.choices)


def _likeness(core: Core, j: int) -> Hashable:
    job = core.jobs[j]
    return job.lengths, job.gaps, job.stretch, tuple(replace(use, job=0) for use in core.uses[j])


def _shape(core: Core, jobs: list[int]) -> Shape | None:
    job = core.jobs[jobs[0]]
    distances = closure(len(job.lengths), stretched(job))
    if distances is None:
        return None
    opens = min(max(core.jobs[j].within[0][0], core.jobs[j].starts[0][0]) for j in jobs)
    closes = max(max(end for _, end in core.jobs[j].within) for j in jobs) - job.lengths[job.last]
    points = range(len(job.lengths))
    holds = [(use, _hold(core, use)) for use in core.uses[jobs[0]] if not may_share(core, use)]
    people = [(use, hold) for use, hold in holds if core.resources[use.choices[0]].is_person]
    return Shape(
        distances.least,
        tuple(opens + (distances.at_least(job.first, i) or 0) for i in points),
        tuple(closes - (distances.at_least(i, job.last) or 0) for i in points),
        tuple(hold for _, hold in people if hold.length is not None),
        tuple(hold for use, hold in holds if not core.resources[use.choices[0]].is_person),
    )


def _hold(core: Core, use: Use) -> Hold:
    length = core.jobs[use.job].lengths[use.first]
    if use.from_end:
        return Hold(use.first, length, use.first, length + use.tail, frozenset(use.choices))
    ends = core.jobs[use.job].lengths[use.last] + use.tail
    return Hold(use.first, -use.lead, use.last, ends, frozenset(use.choices))
