"""Room for visits that lost their place on a running day: the day is pressed together piece by piece.

Freeing everybody at once asks the solver too much on a day of 12. From a mended day without them it goes
as in packing: the visit is put beyond closing time first, and all that has not begun moves up until it fits.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import replace

from planner.packing.core import Answer, Core, Gap, Job, Span
from planner.packing.mend.core import RunningDay
from planner.packing.progress import Stop
from planner.packing.search.lns import Effort
from planner.packing.search.one_more import one_more

PIECE_S = 0.3


def with_room(
    day: RunningDay, answer: Answer, most: int, *, seconds: float, workers: int, stop: Stop | None = None
) -> Answer:
    """The answer with more visits placed where a way was found, `most` of them at most.

    No window that the answer keeps is missed for it.
    """
    core = _keeping(day, answer)
    effort = Effort(
        time.monotonic() + seconds, seconds, workers, day.problem.study.seed, stop, piece_s=PIECE_S
    )
    return one_more(core, answer, most, effort, lambda _: None)


def _keeping(day: RunningDay, answer: Answer) -> Core:
    """The day's core in which what the answer keeps may not be missed, and the rest by no more.

    Nobody is like anybody else in it: each has been told when to come, and comes sooner only with notice.
    """
    jobs = list(day.core.jobs)
    for soft in day.soft:
        if (starts := answer.starts[soft.job]) is not None:
            distance = starts[soft.gap.later] - starts[soft.gap.earlier]
            low = min(soft.gap.low, distance)
            high = None if soft.gap.high is None else max(soft.gap.high, distance)
            jobs[soft.job] = _with(jobs[soft.job], Gap(soft.gap.earlier, soft.gap.later, low, high))
    for j, most in day.stretch.items():
        if (starts := answer.starts[j]) is not None:
            job = jobs[j]
            longest = max(most - job.lengths[job.last], starts[job.last] - starts[job.first])
            jobs[j] = _with(job, Gap(job.first, job.last, 0, longest))
    for j, soonest in day.called.items():
        starts = answer.starts[j]
        low = soonest if starts is None else min(soonest, starts[jobs[j].first])
        jobs[j] = replace(jobs[j], starts=_from(jobs[j].starts, low))
    return replace(day.core, jobs=tuple(replace(job, alike=None) for job in jobs))


def _from(spans: Sequence[Span], low: int) -> tuple[Span, ...]:
    return tuple((max(first, low), last) for first, last in spans if last >= low)


def _with(job: Job, gap: Gap) -> Job:
    return replace(job, gaps=(*job.gaps, gap))
