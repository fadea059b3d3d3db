"""One day in whole steps: what the greedy, the solver and the bounds all read.

A `Job` is a visit (or a rig's first task of the day): activities of fixed length with least and greatest
distances between their starts. A `Use` wants one rig or one person, out of some, for a stretch of a job.
Nothing here knows clock times, protocols or a solver.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

Span = tuple[int, int]
EVER: Span = (0, 10**9)


class Gap(NamedTuple):
    """low <= start of `later` - start of `earlier` <= high (None: no upper end)."""

    earlier: int
    later: int
    low: int
    high: int | None = None


class Window(NamedTuple):
    """The target distance between the starts of two activities; the gap of the same two bounds it.

    `block` is the one of the two whose beginning must not be late.
    """

    earlier: int
    later: int
    target: int
    block: int = -1


class Wants(Enum):
    """Why something is used."""

    RIG = "rig"
    STAFF = "staff"
    CLEARING = "clearing"  # people who clear and do not serve the block itself
    WATCH = "watch"


@dataclass(frozen=True, slots=True)
class Resource:
    """One rig or person (or `many` alike): each is used within `free` only, by one use at a time.

    `taken` are times that something else has one of the many.
    """

    id: str
    is_person: bool
    labels: frozenset[str]  # classes or roles
    free: tuple[Span, ...]
    many: int = 1
    taken: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Use:
    """One of `choices` is busy from `lead` before the start of `first` to `tail` after the end of `last`.

    CLEARING and WATCH begin at the end of `first` instead, and last `tail`. `bout` is the activity
    around a block of `during`: what serves the bout may serve this use as well.
    """

    job: int
    wants: Wants
    label: str
    first: int
    last: int
    tail: int
    choices: tuple[int, ...]
    lead: int = 0
    bout: int | None = None

    @property
    def from_end(self) -> bool:
        """Whether it begins with the end of its activity."""
        return self.wants in (Wants.CLEARING, Wants.WATCH)


@dataclass(frozen=True, slots=True)
class Job:
    """A visit: lengths of its activities, distances between their starts, and where it may lie.

    `first` starts before all others, `last` ends after all others. `within` are the spans one of which
    holds the whole job, `starts` those that hold its start (both ends included). `alone` is its length
    when it has the laboratory alone, `stretch` how much longer it may be. `prepares` names the resource
    that a first task of the day belongs to: the job is there if, and before, that rig is used.
    """

    key: Hashable
    lengths: tuple[int, ...]
    gaps: tuple[Gap, ...]
    windows: tuple[Window, ...]
    within: tuple[Span, ...]
    starts: tuple[Span, ...]
    first: int
    last: int
    alone: int
    stretch: int | None
    must: bool
    alike: Hashable = None  # equal for visits that are alike in everything; None: like no other
    prepares: int | None = None


@dataclass(frozen=True)
class Core:
    """A whole day: its jobs, the uses of each (by job), its resources, and rules between uses.

    `same` are sets of uses (job, number) that share one resource; `served_by` are
    (uses, resource): exactly one of these uses of an activity is given to that resource; `in_turn` are
    jobs of one participant, which follow each other as listed, none without those before it. `near` are two
    of them and how many steps after the first the second starts at most; below 0 they never both come.
    `most` is the laboratory's own limit of visits a day. `horizon` is the last step of the day, a step has
    `step_s` seconds.
    """

    step_s: int
    horizon: int
    jobs: tuple[Job, ...]
    uses: tuple[tuple[Use, ...], ...]
    resources: tuple[Resource, ...]
    same: tuple[tuple[tuple[int, int], ...], ...] = ()
    served_by: tuple[tuple[tuple[tuple[int, int], ...], int], ...] = ()
    in_turn: tuple[tuple[int, int], ...] = ()
    most: int | None = None
    near: tuple[tuple[int, int, int], ...] = ()

    def visits(self) -> list[int]:
        """The jobs that are visits, not first tasks."""
        return [j for j, job in enumerate(self.jobs) if job.prepares is None]


@dataclass(frozen=True)
class Answer:
    """Where everything is: starts[j] is None for a job that has no place; given[j][u] is a resource."""

    starts: tuple[tuple[int, ...] | None, ...]
    given: tuple[tuple[int, ...] | None, ...]

    def placed(self, core: Core) -> int:
        """The number of visits with a place."""
        return sum(self.starts[j] is not None for j in core.visits())


@dataclass(frozen=True)
class Distances:
    """The longest-path closure of a job: least[i][j] <= start of j - start of i, for all pairs."""

    least: tuple[tuple[int | None, ...], ...] = field(repr=False)

    def at_least(self, earlier: int, later: int) -> int | None:
        """The least distance that follows from all gaps together; None where there is none."""
        return self.least[earlier][later]


def closure(count: int, gaps: Sequence[Gap]) -> Distances | None:
    """All distances that follow from the gaps; None where they contradict each other (a positive cycle).

    Visits of one protocol have the same gaps, and every model of a day asks again: it is counted once.
    """
    return _closure(count, tuple(gaps))


@lru_cache(maxsize=1024)
def _closure(count: int, gaps: tuple[Gap, ...]) -> Distances | None:
    least: list[list[int | None]] = [[0 if i == j else None for j in range(count)] for i in range(count)]
    for gap in gaps:
        _raise(least, gap.earlier, gap.later, gap.low)
        if gap.high is not None:
            _raise(least, gap.later, gap.earlier, -gap.high)
    for middle in range(count):
        onward = [(j, value) for j, value in enumerate(least[middle]) if value is not None]
        for i in range(count):
            first = least[i][middle]
            if first is not None:
                for j, value in onward:
                    _raise(least, i, j, first + value)
    if any((least[i][i] or 0) > 0 for i in range(count)):
        return None
    return Distances(tuple(tuple(row) for row in least))


def _raise(least: list[list[int | None]], i: int, j: int, value: int) -> None:
    known = least[i][j]
    if known is None or value > known:
        least[i][j] = value


def stretched(job: Job) -> tuple[Gap, ...]:
    """The job's gaps, and the one that keeps it from being stretched too far."""
    if job.stretch is None:
        return job.gaps
    most = job.alone + job.stretch - job.lengths[job.last]
    return (*job.gaps, Gap(job.first, job.last, 0, most))


def only(core: Core, keep: Sequence[int]) -> Core:
    """The same day with those jobs optional or not as before and no other job asked for; indices stay."""
    kept = set(keep)
    jobs = tuple(job if j in kept else replace(job, within=(), must=False) for j, job in enumerate(core.jobs))
    return replace(core, jobs=jobs)
