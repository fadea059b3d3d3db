"""A first plan in an instant: visits one after another, each at the earliest place that is left for it."""

from __future__ import annotations

import random
import time
from collections.abc import Sequence
from dataclasses import dataclass

from planner.packing.ahead import ahead_first, out_of_turn
from planner.packing.busy_times import FAR, Calendar, calendars
from planner.packing.core import Answer, Core, Wants
from planner.packing.insertion import Insertion, Visitor
from planner.packing.near import near_starts
from planner.packing.taken import busy


class Day:
    """A day that is being filled."""

    def __init__(self, core: Core, visitors: Sequence[Visitor] | None = None) -> None:
        self.core = core
        self.visitors = visitors or [Visitor(core, j) for j in range(len(core.jobs))]
        self.days: list[Calendar] = calendars(core)
        self.starts: list[tuple[int, ...] | None] = [None] * len(core.jobs)
        self.given: list[tuple[int, ...] | None] = [None] * len(core.jobs)

    def prepare_rigs(self) -> None:
        """First tasks of the day, as early as can be; the rigs are closed until then."""
        for j, job in enumerate(self.core.jobs):
            if job.prepares is not None:
                self.prepare(j)

    def prepare(self, j: int) -> None:
        """One first task, as early as can be unless it has its place; its rig is closed until then."""
        rig = self.core.jobs[j].prepares
        assert rig is not None
        starts = self.starts[j]
        if starts is None:
            self.insert(j)
            starts = self.starts[j]
        self.days[rig].add(-FAR + 1, FAR if starts is None else starts[0], j)

    def insert(self, j: int) -> bool:
        """Places job j at its earliest; whether there is a place."""
        if self.core.jobs[j].prepares is None and self.is_full():
            return False
        after, before = self.turn(j)
        earliest, last = self.near(j)
        for start, latest, end in self.visitors[j].spans():
            low, high = max(start, after, earliest), min(latest, last)
            attempt = Insertion(self.visitors[j], self.days, low, high, min(end, before))
            if low <= high and attempt.run():
                self.put(j, attempt)
                return True
        return False

    def is_full(self) -> bool:
        """Whether the laboratory takes no more visits on this day, whatever room is left."""
        most = self.core.most
        return most is not None and sum(self.starts[j] is not None for j in self.core.visits()) >= most

    def put(self, j: int, attempt: Insertion) -> None:
        """Takes over what an attempt has found."""
        uses = self.core.uses[j]
        self.starts[j] = tuple(attempt.starts)
        self.given[j] = tuple(attempt.given[n] for n in range(len(uses)))
        self.occupy(j)

    def occupy(self, j: int) -> None:
        """Enters job j, as placed, into the calendars; a block in a bout counts only beyond it, if shared."""
        for use, r, (start, end) in busy(self.core, j, self.starts[j], self.given[j]):
            self.days[r].add(start, end, j, watch=use.wants is Wants.WATCH)

    def turn(self, j: int) -> tuple[int, int]:
        """After and before which moments the other visits of the participant leave room."""
        ends = [self._end(a) for a, b in self.core.in_turn if b == j and self.starts[a] is not None]
        begins = [
            starts[self.core.jobs[b].first]
            for a, b in self.core.in_turn
            if a == j and (starts := self.starts[b]) is not None
        ]
        return max(ends, default=-FAR), min(begins, default=FAR)

    def has_those_ahead(self, j: int) -> bool:
        """Whether the visits of the participant that come before job j have a place."""
        return all(self.starts[a] is not None for a, b in self.core.in_turn if b == j)

    def near(self, j: int) -> tuple[int, int]:
        """From when to when it may start so as to be near the other visits of the participant."""
        return near_starts(self.core, self.starts, j)

    def _end(self, j: int) -> int:
        job, starts = self.core.jobs[j], self.starts[j]
        assert starts is not None
        return starts[job.last] + job.lengths[job.last]

    def answer(self) -> Answer:
        """The day as it stands; what lacks those ahead of it falls away, and first tasks of unused rigs."""
        visits = set(self.core.visits()) - out_of_turn(self.core, self.starts)
        used = {r for j in visits for r in self.given[j] or ()}
        checks = {j for j, job in enumerate(self.core.jobs) if job.prepares in used}
        keep = [j in visits or j in checks for j in range(len(self.core.jobs))]
        return Answer(
            tuple(s if k else None for s, k in zip(self.starts, keep, strict=True)),
            tuple(g if k else None for g, k in zip(self.given, keep, strict=True)),
        )


@dataclass(frozen=True, order=True)
class _Merit:
    musts: int
    placed: int
    minus_end: int


def refill(
    core: Core, answer: Answer, extra: Sequence[int], visitors: Sequence[Visitor] | None = None
) -> Answer:
    """The answer with these jobs put in as well, where there is room; nothing that is there moves.

    None is put in without those ahead of it, and what has its place without them loses it. Who asks
    again and again of one day hands over its visitors.
    """
    day = Day(core, visitors)
    for j, starts in enumerate(answer.starts):
        if starts is not None:
            day.starts[j], day.given[j] = starts, answer.given[j]
            day.occupy(j)
    for j, job in enumerate(core.jobs):
        if job.prepares is not None:
            day.prepare(j)
    for j in ahead_first(core, extra):
        if day.has_those_ahead(j):
            day.insert(j)
    return day.answer()


def greedy(core: Core, *, seconds: float | None = 0.4, rounds: int = 40, seed: int = 1) -> Answer:
    """The best of several orders, the tightest visits first; ends after `rounds`, or after `seconds`."""
    visitors = [Visitor(core, j) for j in range(len(core.jobs))]
    spans = {j: visitors[j].spans() for j in core.visits()}
    order = sorted((j for j in spans if spans[j]), key=lambda j: (not core.jobs[j].must, spans[j][-1][1], j))
    draw, best, found = random.Random(seed), None, Answer((None,) * len(core.jobs), (None,) * len(core.jobs))
    until = time.monotonic() + (seconds if seconds is not None else 3600.0)
    for attempt in range(rounds):
        day = _filled(core, visitors, order if attempt % 2 else ahead_first(core, order))
        left_out = [j for j in order if day.starts[j] is None]
        merit = _merit(core, day)
        if best is None or merit > best:
            best, found = merit, day
        if (not left_out and attempt >= 3) or time.monotonic() > until:
            break
        order = _next_order(order, left_out, draw)
    return found


def _filled(core: Core, visitors: Sequence[Visitor], order: Sequence[int]) -> Answer:
    """The visits put in one after another; what stands without those ahead of it makes room for others."""
    day = Day(core, visitors)
    day.prepare_rigs()
    for j in order:
        day.insert(j)
    if not out_of_turn(core, day.starts):
        return day.answer()
    answer = day.answer()
    return refill(core, answer, [j for j in order if answer.starts[j] is None], visitors)


def _merit(core: Core, day: Answer) -> _Merit:
    here = [(core.jobs[j], starts) for j in core.visits() if (starts := day.starts[j]) is not None]
    ends = [starts[job.last] + job.lengths[job.last] for job, starts in here]
    return _Merit(sum(job.must for job, _ in here), len(here), -max(ends, default=0))


def _next_order(order: list[int], left_out: list[int], draw: random.Random) -> list[int]:
    """What had no place comes sooner; and two visits change places."""
    order = [j for j in order if j not in left_out]
    for j in left_out:
        order.insert(draw.randrange(len(order) // 2 + 1), j)
    if len(order) > 1:
        a, b = draw.sample(range(len(order)), 2)
        order[a], order[b] = order[b], order[a]
    return order
