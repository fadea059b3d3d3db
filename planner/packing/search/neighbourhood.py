"""A day in which only some jobs are free: the rest stays, and only takes rigs and people."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import replace

from planner.packing.core import Answer, Core, Job, Resource, Span
from planner.packing.near import near_starts
from planner.packing.taken import busy

NEVER = 10**9


def around(core: Core, answer: Answer, free: Collection[int]) -> Core:
    """The day with the jobs of `free` to be placed; every other job is as in the answer, or stays out.

    First tasks of rigs that are done in the answer stay; those that are not may be done.
    """
    still = [j for j, starts in enumerate(answer.starts) if starts is not None and j not in free]
    taken: dict[int, list[Span]] = defaultdict(list)
    for j in still:
        for _, r, span in busy(core, j, answer.starts[j], answer.given[j]):
            taken[r].append(span)
    opened = {
        core.jobs[j].prepares: _end(core, answer, j) for j in still if core.jobs[j].prepares is not None
    }
    resources = tuple(_left(resource, taken[r], opened.get(r)) for r, resource in enumerate(core.resources))
    jobs = tuple(_job(core, answer, j, free) for j in range(len(core.jobs)))
    return replace(core, jobs=jobs, resources=resources)


def _left(resource: Resource, taken: list[Span], opened: int | None) -> Resource:
    """The resource with those times taken, and closed until its first task of the day is done."""
    if resource.many > 1:
        return replace(resource, taken=(*resource.taken, *sorted(taken)))
    closed = [*taken, *([(-NEVER, opened)] if opened is not None else [])]
    free = list(resource.free)
    for start, end in sorted(closed):
        free = [piece for span in free for piece in _cut(span, start, end)]
    return replace(resource, free=tuple(free))


def _cut(span: Span, start: int, end: int) -> Iterator[Span]:
    if end <= span[0] or span[1] <= start:
        yield span
        return
    if span[0] < start:
        yield span[0], start
    if end < span[1]:
        yield end, span[1]


def _end(core: Core, answer: Answer, j: int) -> int:
    job, starts = core.jobs[j], answer.starts[j]
    assert starts is not None
    return starts[job.last] + job.lengths[job.last]


def _job(core: Core, answer: Answer, j: int, free: Collection[int]) -> Job:
    """The job as it may be placed: not at all unless it is free, and in its turn among the others."""
    job = core.jobs[j]
    if job.prepares is not None:
        if answer.starts[j] is None:
            return job
        return replace(job, within=(), prepares=None)
    if j not in free:
        return replace(job, within=(), must=False)
    after = [_end(core, answer, a) for a, b in core.in_turn if b == j and a not in free and answer.starts[a]]
    before = [
        s[core.jobs[b].first] for a, b in core.in_turn if a == j and b not in free and (s := answer.starts[b])
    ]
    low, high = max(after, default=-NEVER), min(before, default=NEVER)
    within = tuple((max(a, low), min(b, high)) for a, b in job.within if max(a, low) < min(b, high))
    still = [None if other in free else s for other, s in enumerate(answer.starts)]
    low, high = near_starts(core, still, j)
    starts = tuple((max(a, low), min(b, high)) for a, b in job.starts if max(a, low) <= min(b, high))
    return replace(job, within=within, starts=starts)


def put_back(core: Core, answer: Answer, part: Answer, free: Collection[int]) -> Answer:
    """The answer with the free jobs (and new first tasks) as `part` has them."""
    moved = set(free) | {j for j, s in enumerate(part.starts) if s is not None}
    starts = tuple(part.starts[j] if j in moved else s for j, s in enumerate(answer.starts))
    given = tuple(part.given[j] if j in moved else g for j, g in enumerate(answer.given))
    return Answer(starts, given)
