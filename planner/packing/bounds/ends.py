"""How early the last of some visits can end at best: head and tail of the day are never full.

Every visit turns on one activity whose rig is scarcest, as a rule the bout. Those follow each other on
their rigs; so near the end of the day only few visits are left that have work for anybody, and near its
beginning only few have begun. What people cannot do there must be done in between.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.packing.bounds.loads import may_share
from planner.packing.core import Core, Span, Use, Wants, closure, stretched

EDGES = 30  # head and tail are tried at so many lengths each


@dataclass(frozen=True)
class Work:
    """People's work of one activity: earliest and latest start from the turning activity's."""

    earliest: int
    latest: int
    length: int
    people: int
    from_opening: int  # earliest start of all
    beyond: int  # by how much it may outlast the visit at most, as clearing does


@dataclass(frozen=True)
class Turn:
    """A visit seen from its scarcest activity: least time before and after it, its rig's time, work."""

    before: int
    after: int
    taken: int
    work: tuple[Work, ...]

    @property
    def load(self) -> int:
        """Steps of people, over the whole visit."""
        return sum(one.length * one.people for one in self.work)


class Ends:
    """The bounds of one day; `turns` are None where no rig is common to all visits."""

    def __init__(self, core: Core, jobs: Sequence[int]) -> None:
        self.core, self.jobs = core, list(jobs)
        self.choices = scarcest(core, self.jobs)
        self.rigs = sum(core.resources[r].many for r in self.choices or ())
        self.turns = [turn for j in self.jobs if self.choices and (turn := _turn(core, j, self.choices))]
        self.kinds = tuple(dict.fromkeys(self.turns))
        people = {
            r for j in self.jobs for use in core.uses[j] if use.wants is Wants.STAFF for r in use.choices
        }
        self.free = [(core.resources[r].many, core.resources[r].free) for r in sorted(people)]

    def last_end(self, count: int) -> int:
        """The least last end of any `count` of the visits, in steps from opening; clearing may follow."""
        return self._earliest(count, self._cleared_later(count))

    def last_work(self, count: int) -> int:
        """The least step by which any `count` of the visits have ended, clearing included."""
        return self._earliest(count, 0)

    def _earliest(self, count: int, later: int) -> int:
        """The same, where so much of the work is done later."""
        if not self.turns or len(self.turns) < len(self.jobs) or not 0 < count <= len(self.jobs):
            return 0
        low = self._chain(count)
        high = self.core.horizon + max(turn.load for turn in self.turns) * count
        load = sum(sorted(turn.load for turn in self.turns)[:count]) - later
        heads, tails = self._edges(count)
        while low < high:
            middle = (low + high) // 2
            if self._is_too_short(middle, load, heads, tails):
                low = middle + 1
            else:
                high = middle
        return low

    def _edges(self, count: int) -> tuple[list[Span], list[Span]]:
        """Lengths of head and tail, each with the most work that can be done in it."""
        longest = max(turn.before + turn.after for turn in self.kinds)
        lengths = sorted({longest * n // EDGES for n in range(EDGES + 1)})
        heads = [(y, min(self._room(0, y), self._head(y, count))) for y in lengths]
        return heads, [(x, self._tail(x, count)) for x in lengths]

    def _cleared_later(self, count: int) -> int:
        """Work after the last end, at most: each person is then at one thing at most, begun before it.

        The k-th visit from the end turns so much before it (see `_tail`).
        """
        if not self.turns or len(self.turns) < len(self.jobs):
            return 0
        last, apart = min(t.after for t in self.kinds), min(t.taken for t in self.kinds)
        people = sum(many for many, _ in self.free)
        longest = max((one.beyond for turn in self.kinds for one in turn.work), default=0)
        by_visits = sum(
            max(_done_later(turn, last + k // self.rigs * apart) for turn in self.kinds) for k in range(count)
        )
        return min(people * longest, by_visits)

    def _chain(self, count: int) -> int:
        """The turning activities one after another on their rigs."""
        rounds = (count - 1) // self.rigs
        apart = sum(sorted(turn.taken for turn in self.turns)[:rounds]) if self.rigs == 1 else 0
        apart = apart or rounds * min(turn.taken for turn in self.turns)
        return min(t.before for t in self.kinds) + apart + min(t.after for t in self.kinds)

    def _is_too_short(self, end: int, load: int, heads: list[Span], tails: list[Span]) -> bool:
        """Whether people have too little time before `end`, given what can be done at both edges."""
        whole = self._room(0, end)
        tail_lost = [
            (x, (room := self._room(end - x, end)) - min(room, work)) for x, work in tails if x <= end
        ]
        head_lost = [(y, self._room(0, y) - work) for y, work in heads]
        lost = max(a + b for y, a in head_lost for x, b in tail_lost if y + x <= end or x == y == 0)
        return whole - lost < load

    def _room(self, start: int, end: int) -> int:
        """Steps that people have between two moments."""
        return sum(
            many * max(0, min(end, b) - max(start, a))
            for many, free in self.free
            for a, b in free
            if a < end and start < b
        )

    def _head(self, until: int, count: int) -> int:
        """The most work that can be done by `until`: the k-th visit to turn cannot turn earlier than that."""
        first, apart = min(t.before for t in self.kinds), min(t.taken for t in self.kinds)
        return sum(
            max(_done_by(turn, first + k // self.rigs * apart, until) for turn in self.kinds)
            for k in range(count)
        )

    def _tail(self, length: int, count: int) -> int:
        """The most work that can be done in the last steps: the k-th visit from the end turns no later."""
        last, apart = min(t.after for t in self.kinds), min(t.taken for t in self.kinds)
        return sum(
            max(_done_after(turn, length - last - k // self.rigs * apart, length) for turn in self.kinds)
            for k in range(count)
        )


def _done_by(turn: Turn, turns_at: int, until: int) -> int:
    starts = ((one, max(one.from_opening, turns_at + one.earliest)) for one in turn.work)
    return sum(one.people * max(0, min(one.length, until - start)) for one, start in starts)


def _done_after(turn: Turn, turns_at: int, most: int) -> int:
    """Work of a visit that turns at `turns_at`, counted from where the last steps begin."""
    ends = ((one, turns_at + one.latest + one.length) for one in turn.work)
    return sum(one.people * max(0, min(one.length, end, most)) for one, end in ends)


def _done_later(turn: Turn, ago: int) -> int:
    """Work after the last end of a visit that turned at least so long before it."""
    later = ((one, min(one.beyond, one.latest + one.length - ago)) for one in turn.work)
    return sum(one.people * max(0, over) for one, over in later)


def scarcest(core: Core, jobs: Sequence[int]) -> frozenset[int] | None:
    """The set of rigs that all visits need and that is taken the longest, for each of its rigs."""
    common: set[frozenset[int]] | None = None
    for j in jobs:
        its = {frozenset(u.choices) for u in core.uses[j] if u.wants is Wants.RIG and u.first == u.last}
        common = its if common is None else common & its
    if not common:
        return None
    return max(sorted(common, key=sorted), key=lambda choices: _longest(core, jobs[0], choices))


def _longest(core: Core, j: int, choices: frozenset[int]) -> float:
    many = sum(core.resources[r].many for r in choices)
    return max((taken_by(core, use) for use in of_choices(core, j, choices)), default=0) / max(1, many)


def of_choices(core: Core, j: int, choices: frozenset[int]) -> list[Use]:
    return [
        use
        for use in core.uses[j]
        if use.wants is Wants.RIG and use.first == use.last and frozenset(use.choices) == choices
    ]


def taken_by(core: Core, use: Use) -> int:
    return use.lead + core.jobs[use.job].lengths[use.first] + use.tail


def _turn(core: Core, j: int, choices: frozenset[int]) -> Turn | None:
    job = core.jobs[j]
    distances = closure(len(job.lengths), stretched(job))
    if distances is None or not job.within:
        return None
    use = max(of_choices(core, j, choices), key=lambda use: taken_by(core, use))
    opening = max(0, min(begin for begin, _ in job.within))
    far = core.horizon + sum(job.lengths)

    def start(i: int) -> Work:
        lengths = {n: job.lengths[i] + n.tail for n in core.uses[j] if _counts(core, n, i)}
        early, late = distances.at_least(use.first, i), distances.at_least(i, use.first)
        length = min(lengths.values(), default=0)
        return Work(
            -far if early is None else early,
            far if late is None else -late,
            length,
            len(lengths),
            opening + (distances.at_least(job.first, i) or 0),
            max(0, length - (distances.at_least(i, job.last) or 0) - job.lengths[job.last]),
        )

    before = opening + (distances.at_least(job.first, use.first) or 0)
    after = (distances.at_least(use.first, job.last) or 0) + job.lengths[job.last]
    work = tuple(one for i in range(len(job.lengths)) if (one := start(i)).people)
    return Turn(before, after, taken_by(core, use), work)


def _counts(core: Core, use: Use, activity: int) -> bool:
    return use.wants is Wants.STAFF and use.first == activity and not may_share(core, use)
