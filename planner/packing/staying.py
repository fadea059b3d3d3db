"""A plan that something has broken, put right: what can stay keeps its times, what cannot goes beside it.

A plan from before a rig failed or a person left is a poor hint as a whole and a very good one in most of
its parts. So first as many visits as can be keep their times, with other rigs and people where need be;
then those that fell out are placed anew together with a few of their neighbours, more of them each time.
"""

from __future__ import annotations

import time
from dataclasses import replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core
from planner.packing.greedy import refill
from planner.packing.hints import add_hint
from planner.packing.model import make_model
from planner.packing.objective import AIMS
from planner.packing.search.neighbourhood import around, put_back
from planner.packing.solve import Limits, run

STAYING_S = 1.0  # at most; a day of 12 visits takes 0.06 s
BESIDE = (2, 3, 4, 6)  # neighbours that are placed anew together with what fell out
BESIDE_S = 1.0  # for each number of them: beyond 2 visits seldom proven, but found within 0.2 s or not at all
MOST_OUT = 6  # visits that fell out, beyond which their places are looked for one by one


def put_right(core: Core, old: Answer, *, seconds: float, workers: int, seed: int) -> Answer | None:
    """The old answer with what broke placed anew; visits that found no place are left out.

    `seconds` limit it. None where not even what can stay was found in the time.
    """
    until = None if workers == 1 else time.monotonic() + seconds
    now = staying(core, old, Limits(min(STAYING_S, seconds), 1, seed, until=until))
    if now is None:
        return None
    out = [j for j in core.visits() if now.starts[j] is None and old.starts[j] is not None]
    if not 0 < len(out) <= MOST_OUT:
        return refill(core, now, out)
    for beside in BESIDE:
        if until is not None and time.monotonic() > until:
            break
        free = out + _nearest(core, now, old, out)[:beside]
        limits = Limits(min(BESIDE_S, seconds / len(BESIDE)), workers, seed, until=until)
        if (found := _anew(core, now, old, free, limits)) is not None:
            return found
    return refill(core, now, out)


def staying(core: Core, old: Answer, limits: Limits) -> Answer | None:
    """The old answer with as many of its visits at their times as can be; rigs and people may be others.

    Visits that must come may be left out here. None where nothing was found in the time.
    """
    jobs = tuple(replace(job, must=False) for job in core.jobs)
    v = make_model(replace(core, jobs=jobs), order_alike=False)
    for j in core.visits():
        starts = old.starts[j]
        if not v.start[j]:
            continue
        if starts is None or not _may_start(core, j, starts):
            v.model.add(v.placed[j] == 0)
            continue
        for here, start in zip(v.start[j], starts, strict=True):
            v.model.add(here == start)  # whether the visit is placed or not: the starts alone bind nobody
    add_hint(v, old)
    count: cp_model.LinearExprT = sum(v.placed[j] for j in core.visits())
    return run(v, -count, limits).answer


def _may_start(core: Core, j: int, starts: tuple[int, ...]) -> bool:
    job = core.jobs[j]
    end = starts[job.last] + job.lengths[job.last]
    inside = any(low <= starts[job.first] and end <= high for low, high in job.within)
    return inside and any(low <= starts[job.first] <= high for low, high in job.starts)


def _nearest(core: Core, now: Answer, old: Answer, out: list[int]) -> list[int]:
    """The visits that have a place, those that began nearest to one that fell out first."""

    def first(j: int) -> int:
        starts = old.starts[j]
        return core.horizon if starts is None else starts[core.jobs[j].first]

    placed = [j for j in core.visits() if now.starts[j] is not None and j not in out]
    return sorted(placed, key=lambda j: (min(abs(first(j) - first(one)) for one in out), j))


def _anew(core: Core, now: Answer, old: Answer, free: list[int], limits: Limits) -> Answer | None:
    """The answer with all these visits placed, with as little waiting as was found; None: not found."""
    part = around(core, now, free)
    jobs = tuple(replace(job, must=job.must or j in free) for j, job in enumerate(part.jobs))
    v = make_model(replace(part, jobs=jobs), order_alike=False)
    add_hint(v, old)
    found = run(v, AIMS["waiting_s"](v).expression, limits).answer
    return None if found is None else put_back(core, now, found, free)
