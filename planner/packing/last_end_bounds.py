"""How early all of a day's alike visits can be out at best, by what people lose at the edges of the day.

An end is tried as the closing time of the whole laboratory. It is too early where people have not enough
time left between what they must lose at both edges, or, with few visits, where the counted day says no.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace

from planner.packing.core import Core
from planner.packing.counted import cannot_be_counted
from planner.packing.edges import least_lost
from planner.packing.shapes import AlikeDay, alike_day, mirrored
from planner.packing.solve import Limits

SHARES = (0.75, 0.95, 1.15, 1.4, 1.65)  # of a visit's own length: how long the edges are
FEW = 8  # visits, up to which the whole day is counted, and edges are not looked at
STEP_S, FINE_S = 60, 30  # by how much later ends are tried where the day is counted, at first and at least
FURTHER_S = 60  # by how much later at least, where edges have said no
SOLVES = 8  # runs of the solver, at most, that the time is meant for


def earliest_proven(core: Core, low: int, high: int, limits: Limits) -> int:
    """The step before which not all visits can be out, as far as it is proven in time; `low` at least."""
    search = _Search(core, len(core.visits()), high, limits)
    return search.counted(low) if search.count <= FEW else search.by_edges(low)


def closing_at(core: Core, end: int) -> Core:
    """The day with nobody there after that step."""
    jobs = tuple(
        replace(job, within=tuple((a, min(b, end)) for a, b in job.within if a < end)) for job in core.jobs
    )
    resources = tuple(
        replace(one, free=tuple((a, min(b, end)) for a, b in one.free if a < end)) for one in core.resources
    )
    return replace(core, horizon=end, jobs=jobs, resources=resources)


@dataclass
class _Search:
    """One end after another; which lengths of the edges served best is remembered."""

    core: Core
    count: int
    high: int
    limits: Limits
    began: float = field(default_factory=time.monotonic)
    solves: int = 0
    shares: list[int] = field(default_factory=lambda: [0, 0])  # of SHARES, of head and tail

    def counted(self, low: int) -> int:
        """As far as the counted day goes: ever greater steps, then smaller ones."""
        step, least = (max(1, s // self.core.step_s) for s in (STEP_S, FINE_S))
        while low < self.high and step >= least and not self._is_over():
            end = min(low + step, self.high) - 1
            self.solves += SOLVES // 2
            day = alike_day(closing_at(self.core, end), self.count)
            if day is not None and cannot_be_counted(day, self._part(0.5)):
                low, step = end + 1, 2 * step
            else:
                step //= 2
        return low

    def by_edges(self, low: int) -> int:
        """As far as edges go: what is lost beyond what there is to spare says how far the next try may go."""
        end = low
        while low <= end < self.high and not self._is_over():
            day = alike_day(closing_at(self.core, end), self.count)
            if day is None:
                break
            people = frozenset(r for r, supply in enumerate(day.supplies) if supply.is_person)
            lacking = self._lacking(day, people)
            further = (lacking - 1) // sum(day.supplies[r].many for r in people)
            if lacking > 0:
                low = end + 1
                further = max(further, FURTHER_S // self.core.step_s, 1)
            end = min(end + further, self.high - 1)
        return low

    def _lacking(self, day: AlikeDay, people: frozenset[int]) -> int:
        """How many steps of people are lost beyond what there is to spare; below 0: how many are left."""
        lacking = day.load(people) - day.room(people, 0, day.horizon)
        edges = (day, mirrored(day))
        lost = [self._lost(edge, people, share) for edge, share in zip(edges, self.shares, strict=True)]
        for side in (1, 0):
            while lacking + sum(lost) <= 0 and self._has_longer(day, side) and not self._is_over():
                more = self._lost(edges[side], people, self.shares[side] + 1)
                if more <= lost[side]:
                    break
                lost[side], self.shares[side] = more, self.shares[side] + 1
        return lacking + sum(lost)

    def _has_longer(self, day: AlikeDay, side: int) -> bool:
        """Whether there is a longer edge that leaves the other one alone."""
        longer = self.shares[side] + 1
        if longer >= len(SHARES):
            return False
        return _edge(day, longer) + _edge(day, self.shares[1 - side]) <= day.horizon

    def _lost(self, day: AlikeDay, people: frozenset[int], share: int) -> int:
        self.solves += 1
        length = _edge(day, share)
        return least_lost(day, people, length, day.room(people, 0, length) + 1, self._part(1 / SOLVES))

    def _part(self, share: float) -> Limits:
        """Some of the time, and with several workers no more than is left."""
        until = None if self.limits.workers == 1 else self.began + self.limits.seconds
        return replace(self.limits, seconds=share * self.limits.seconds, until=until)

    def _is_over(self) -> bool:
        """Whether the time is up; with one worker by the number of runs."""
        if self.limits.stop and self.limits.stop():
            return True
        if self.limits.workers == 1:
            return self.solves >= SOLVES
        return time.monotonic() - self.began >= self.limits.seconds


def _edge(day: AlikeDay, share: int) -> int:
    """Steps of an edge."""
    return int(SHARES[share] * max(least for row in day.shape.least for least in row if least is not None))
