"""Calm first plans: visits that begin at even distances, each where it has to wait the least.

The tightest plan makes everybody wait for everybody. A plan with room between the visits is a far better
beginning for the stage that makes waiting small.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from planner.packing.core import Answer, Core, Job
from planner.packing.greedy import Day
from planner.packing.insertion import Insertion, Visitor
from planner.packing.objective import value

OFFSETS = 16  # starts that are tried for each visit
# What is tried: the distance between visits as a share of an even share of the day, and what a step of a
# later start counts against a step of waiting. Those that served best on days of 6 to 12 come first.
TRIED = (
    (0.98, 0.3),
    (0.65, 0.3),
    (0.78, 1.0),
    (1.3, 0.3),
    (0.62, 0.3),
    (0.75, 0.6),
    (0.85, 1.0),
    (0.52, 0.3),
    (1.15, 0.3),
    (0.68, 0.3),
    (0.9, 1.0),
    (0.45, 0.3),
    (0.8, 0.6),
    (0.3, 0.3),
)


def calmest(core: Core, best: Answer, seconds: float | None) -> Answer:
    """The plan with the least waiting, then the earliest end, that places as many visits as `best`.

    `seconds` None: all spacings are tried, whatever time they take.
    """
    until = time.monotonic() + (seconds if seconds is not None else 3600.0)
    visitors = [Visitor(core, j) for j in range(len(core.jobs))]
    musts = [j for j in core.visits() if core.jobs[j].must]
    waits = _calm(core, best)
    for spacing, later in _spacings(core):
        if time.monotonic() > until:
            break
        found = _spread(core, visitors, spacing, later)
        if found.placed(core) < best.placed(core) or any(found.starts[j] is None for j in musts):
            continue
        if (reached := _calm(core, found)) < waits or found.placed(core) > best.placed(core):
            best, waits = found, reached
    return best


def _calm(core: Core, answer: Answer) -> tuple[int, int]:
    """Waiting first, then the last end."""
    return value(core, answer, "waiting_s"), value(core, answer, "last_end_s")


def _spacings(core: Core) -> Iterator[tuple[int, float]]:
    """Distances between visits in steps, each with what a later start counts."""
    visits = core.visits()
    longest = max((core.jobs[j].alone for j in visits), default=0)
    even = max(0, core.horizon - longest) / max(1, len(visits) - 1)
    for share, later in TRIED:
        yield int(even * share), later


def _spread(core: Core, visitors: list[Visitor], spacing: int, later: float) -> Answer:
    """Visits in order of their time, the k-th not before k spacings."""
    day = Day(core, visitors)
    day.prepare_rigs()
    spans = {j: visitors[j].spans() for j in core.visits()}
    order = sorted((j for j in spans if spans[j]), key=lambda j: (spans[j][-1][1], spans[j][0][0], j))
    for number, j in enumerate(order):
        tried = [] if day.is_full() else list(_tries(core, day, j, number * spacing, later))
        if tried:
            _, _, attempt = min(tried, key=lambda one: one[:2])
            day.put(j, attempt)
    return day.answer()


def _tries(core: Core, day: Day, j: int, base: int, later: float) -> Iterator[tuple[float, int, Insertion]]:
    """Places of a visit from `base` on, with what each costs."""
    job, (after, before) = core.jobs[j], day.turn(j)
    step = max(1, job.alone // 30)
    for start, latest, end in day.visitors[j].spans():
        begin = max(start, base, after)
        for moment in range(begin, min(latest, begin + OFFSETS * step) + 1, step):
            attempt = Insertion(day.visitors[j], day.days, moment, latest, min(end, before))
            if attempt.run():
                first = attempt.starts[job.first]
                yield _waits(job, attempt.starts) + later * (first - begin), first, attempt


def _waits(job: Job, starts: list[int]) -> int:
    length = starts[job.last] + job.lengths[job.last] - starts[job.first]
    off = sum(abs(starts[w.later] - starts[w.earlier] - w.target) for w in job.windows)
    return length - job.alone + 2 * off
