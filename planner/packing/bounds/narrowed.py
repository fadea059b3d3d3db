"""What may still lie between the activities of each visit once the day's waiting is given.

Where all visits together may wait so much, each may wait that, less what the others cannot do without. A
visit that waits the least it can is nearly rigid; said as distances, that reaches all bounds and domains,
and the last end of a day of six is proven, which stayed open while only the sum of all waiting was known.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import replace

from ortools.sat.python import cp_model

from planner.packing.bounds.alone import LONE_S, least_each, lone_model, shape_of
from planner.packing.core import Core, Gap, Job
from planner.packing.objective import waits
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import Variables


def narrowed(core: Core, total: int) -> Core:
    """The same day for plans that place all its visits and whose waiting is `total` steps at most."""
    least = least_each(core)
    spare = total - sum(least.values())
    known: dict[Hashable, tuple[Gap, ...]] = {}
    jobs = list(core.jobs)
    for j, its in least.items():
        shape = (shape_of(jobs[j]), its)
        if shape not in known:
            known[shape] = tuple(_gaps(core, jobs[j], its + spare))
        jobs[j] = replace(jobs[j], gaps=(*jobs[j].gaps, *known[shape]))
    return replace(core, jobs=tuple(jobs))


def _gaps(core: Core, job: Job, most: int) -> Iterator[Gap]:
    """Least and greatest distances of activities in a visit that waits `most` steps at most."""
    v = lone_model(core, job)
    if not v.start[0]:
        return
    v.model.add(sum(waits(v).values()) <= most)
    count = range(len(job.lengths))
    pairs = {(i, i + 1) for i in count[:-1]} | {(gap.earlier, gap.later) for gap in job.gaps}
    for i, j in sorted(pairs | {(job.first, job.last)}):
        low, high = (_end(v, i, j, sign) for sign in (1, -1))
        if i != j and low is not None and high is not None:
            yield Gap(i, j, low, -high)


def _end(v: Variables, i: int, j: int, sign: int) -> int | None:
    """The least of the distance from i to j, or of its opposite; None where it was not proven."""
    done = run(v, sign * (v.start[0][j] - v.start[0][i]), Limits(LONE_S, workers=1), settings=_small)
    return done.value if done.proof is Proof.OPTIMAL else None


def _small(solver: cp_model.CpSolver) -> None:
    solver.parameters.cp_model_presolve = False
