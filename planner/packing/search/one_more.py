"""As many visits as can be: one more is put beyond the end of the day, and the day pressed together."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from planner.packing.core import Answer, Core
from planner.packing.greedy import refill
from planner.packing.search.lns import Effort, search
from planner.packing.search.overtime import LongDay, long_day


def one_more(core: Core, best: Answer, bound: int, effort: Effort, tell: Callable[[Answer], None]) -> Answer:
    """The best answer found: visits are added one by one until `bound` is met or the time is over."""
    number = 0
    while best.placed(core) < bound and not _is_over(effort, number):
        candidates = _candidates(core, best)
        if not candidates:
            return best
        joined = _beyond(core, best, candidates[number % len(candidates)])
        if joined is None:
            return best
        long, answer = joined
        number += 1
        seconds = effort.seconds / 2 if effort.workers == 1 else effort.until - time.monotonic()
        tried = replace(effort, seconds=seconds, seed=effort.seed + 1000 * number)
        found = search(long.core, answer, long.hunt(), tried)
        if long.over(found) == 0:
            best = found
            tell(best)
    return best


def _is_over(effort: Effort, number: int) -> bool:
    if effort.stop and effort.stop():
        return True
    return number >= 2 if effort.workers == 1 else time.monotonic() >= effort.until


def _candidates(core: Core, best: Answer) -> list[int]:
    """Visits without a place that may come at all, those with most room first."""
    left = [j for j in core.visits() if best.starts[j] is None and core.jobs[j].within]
    return sorted(left, key=lambda j: (not core.jobs[j].must, -sum(b - a for a, b in core.jobs[j].within), j))


def _beyond(core: Core, best: Answer, extra: int) -> tuple[LongDay, Answer] | None:
    """The long day and an answer in which the extra visit stands too, wherever there is room."""
    job = core.jobs[extra]
    long = long_day(core, 2 * job.alone + (job.stretch or 0))
    answer = refill(long.core, best, [extra])
    return None if answer.starts[extra] is None else (long, answer)
