"""How early all of a day's alike visits can be out at best, by what people lose at the edges of the day.

An end is tried as the closing time of the whole laboratory. It is too early where people have not enough
time left between what they must lose at both edges, or, with few visits, where the counted day says no.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial

from planner.packing.bounds.counted import cannot_be_counted
from planner.packing.bounds.edges import least_lost
from planner.packing.bounds.shapes import AlikeDay, alike_day, mirrored
from planner.packing.core import Core, Use, Wants, closure, stretched
from planner.packing.solve import Limits

# Of a visit's own length, how long head and tail are: what is quick first, then what loses more. A longer
# head loses no more; a longer tail takes longer to prove than it is worth.
EDGES = ((0.75, 0.75), (0.75, 1.65), (0.95, 1.65))
FEW = 8  # visits, up to which the whole day is counted, and edges are not looked at
STEP_S, FINE_S = 60, 15  # by how much later ends are tried, at first and at least
SOLVES = 8  # runs of the solver, at most, that the time is meant for


def earliest_proven(core: Core, low: int, high: int, limits: Limits) -> int:
    """The step before which not all visits can be out, as far as it is proven in time; `low` at least."""
    search = _Search(core, len(core.visits()), high, limits)
    if search.count <= FEW:
        return search.later(low, search.counted)
    for head, tail in EDGES:
        low = search.later(low, partial(search.edges, head, tail))
    return low


def closing_at(core: Core, end: int) -> Core:
    """The day whose visits end by that step; nobody is there once what is cleared after them can be done."""
    over = max((_beyond(core, use) for j in core.visits() for use in core.uses[j]), default=0)
    gone = min(core.horizon, end + over)
    jobs = tuple(
        replace(job, within=tuple((a, min(b, end)) for a, b in job.within if a < end)) for job in core.jobs
    )
    resources = tuple(
        replace(one, free=tuple((a, min(b, gone)) for a, b in one.free if a < gone)) for one in core.resources
    )
    return replace(core, horizon=gone, jobs=jobs, resources=resources)


def _beyond(core: Core, use: Use) -> int:
    """By how much a use may outlast its visit, at most; watches are not counted here."""
    job = core.jobs[use.job]
    distances = closure(len(job.lengths), stretched(job))
    if use.wants is Wants.WATCH or distances is None:
        return 0
    ends = core.jobs[use.job].lengths[use.last] + use.tail
    return max(0, ends - (distances.at_least(use.last, job.last) or 0) - job.lengths[job.last])


@dataclass
class _Search:
    """One end after another, each refused or left open."""

    core: Core
    count: int
    high: int
    limits: Limits
    began: float = field(default_factory=time.monotonic)
    solves: int = 0

    def later(self, low: int, is_refused: Callable[[AlikeDay], bool]) -> int:
        """As far as ends are refused from `low` on: ever greater steps, then smaller ones."""
        step, least = (max(1, s // self.core.step_s) for s in (STEP_S, FINE_S))
        while low < self.high and step >= least and not self._is_over():
            end = min(low + step, self.high) - 1
            day = alike_day(closing_at(self.core, end), self.count)
            if day is not None and is_refused(day):
                low, step = end + 1, 2 * step
            else:
                step //= 4
        return low

    def counted(self, day: AlikeDay) -> bool:
        """Whether the counted day says no."""
        self.solves += SOLVES // 2
        return cannot_be_counted(day, self._part(0.5))

    def edges(self, head: float, tail: float, day: AlikeDay) -> bool:
        """Whether people lose more at edges so long (of a visit's length) than they have to spare."""
        people = frozenset(r for r, supply in enumerate(day.supplies) if supply.is_person)
        lengths = [int(share * day.length) for share in (head, tail)]
        if sum(lengths) > day.horizon:
            return False
        spare = day.room(people, 0, day.horizon) - day.load(people)
        for edge, length in zip((day, mirrored(day)), lengths, strict=True):
            self.solves += 1
            spare -= least_lost(edge, people, length, spare + 1, self._part(1 / SOLVES))
            if spare < 0:
                return True
        return False

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
