"""What each visit has to wait even when it has the laboratory alone: a bound on waiting."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from planner.packing.core import EVER, Core, Job
from planner.packing.demands import gaps, windows
from planner.packing.grid import Grid
from planner.packing.jobs import first_and_last
from planner.packing.model import make_model
from planner.packing.objective import waiting
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import Variables
from planner.study.model import Visit
from planner.timing.plan import VisitPlan

LONE_S = 1.0  # for one visit without rigs and people; it takes a few hundredths


def least_waiting(core: Core, count: int) -> int:
    """Steps of waiting that any `count` of the visits cannot do without."""
    return sum(sorted(least_each(core).values())[:count])


def least_each(core: Core) -> dict[int, int]:
    """By visit, the steps of waiting that it cannot do without."""
    known: dict[Hashable, int] = {}
    found = {}
    for j in core.visits():
        job = core.jobs[j]
        shape = shape_of(job)
        if job.within and shape not in known:
            known[shape] = _lone(core, job)
        found[j] = known.get(shape, 0)
    return found


def shape_of(job: Job) -> Hashable:
    """All there is of a visit but who it is, when it may come, and what it uses."""
    return job.lengths, job.gaps, job.windows, job.alone, job.stretch


def lone_model(core: Core, job: Job) -> Variables:
    """A model of one visit for which nothing is ever taken."""
    only = replace(job, must=True, alike=None)
    return make_model(replace(core, jobs=(only,), uses=((),), same=(), served_by=(), in_turn=(), near=()))


def _lone(core: Core, job: Job) -> int:
    """The least waiting of one visit for which nothing is ever taken; 0 where that was not proven."""
    v = lone_model(core, job)
    if not v.start[0]:
        return 0
    done = run(v, waiting(v).expression, Limits(LONE_S, workers=1))
    return done.value if done.proof is Proof.OPTIMAL and done.value is not None else 0


def least_waiting_s(asked: Sequence[Visit], plans: Mapping[str, VisitPlan], count: int) -> int:
    """Seconds of waiting that any `count` of these visits cannot do without, on whatever days."""
    each = {name: _lone_s(plans[name]) for name in {visit.protocol for visit in asked}}
    return sum(sorted(each[visit.protocol] for visit in asked)[:count])


def _lone_s(plan: VisitPlan) -> int:
    """The least waiting of one visit that has everything to itself, to the second."""
    second = Grid(datetime.fromtimestamp(0, UTC), 1)
    found = gaps(plan, second)
    first, last, fits = first_and_last(plan, found, second)
    if not fits or not plan.activities:
        return 0
    job = Job(
        key="alone",
        lengths=tuple(activity.length_s for activity in plan.activities),
        gaps=found,
        windows=windows(plan, second),
        within=((0, 2 * plan.alone_s + 86_400),),
        starts=(EVER,),
        first=first,
        last=last,
        alone=plan.alone_s,
        stretch=None,
        must=True,
    )
    return _lone(Core(1, job.within[0][1], (job,), ((),), ()), job)
