"""What each visit has to wait even when it has the laboratory alone: a bound on the waiting of a day."""

from __future__ import annotations

from dataclasses import replace

from planner.packing.core import Core, Job
from planner.packing.model import make_model
from planner.packing.objective import waiting
from planner.packing.solve import Limits, Proof, run

LONE_S = 1.0  # for one visit without rigs and people; it takes a few hundredths


def least_waiting(core: Core, count: int) -> int:
    """Steps of waiting that any `count` of the visits cannot do without."""
    known: dict[object, int] = {}
    found = []
    for j in core.visits():
        job = core.jobs[j]
        shape = (job.lengths, job.gaps, job.windows, job.alone, job.stretch)
        if job.within and shape not in known:
            known[shape] = _lone(core, job)
        found.append(known.get(shape, 0))
    return sum(sorted(found)[:count])


def _lone(core: Core, job: Job) -> int:
    """The least waiting of one visit for which nothing is ever taken; 0 where that was not proven."""
    only = replace(job, must=True, alike=None)
    v = make_model(replace(core, jobs=(only,), uses=((),), same=(), served_by=(), in_turn=()))
    if not v.start[0]:
        return 0
    done = run(v, waiting(v).expression, Limits(LONE_S, workers=1))
    return done.value if done.proof is Proof.OPTIMAL and done.value is not None else 0
