"""What is better: the stages of a day as expressions that are made as small as can be."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core
from planner.packing.variables import Variables

Weights = Mapping[int, int]  # by visit: how much it counts in one piece of a search


@dataclass(frozen=True, slots=True)
class Aim:
    """One stage: its expression (made small), and how its value reads as the stage's own."""

    name: str
    expression: cp_model.LinearExprT
    sign: int  # -1 where more is better
    unit_s: int  # what one step of the expression is worth


def placed(v: Variables) -> Aim:
    """As many visits as can be."""
    return Aim("placed", -sum(v.placed[j] for j in v.core.visits()), -1, 1)


def waiting(v: Variables) -> Aim:
    """Visits as long as alone in the laboratory, and every time point at its target (counted twice)."""
    return Aim("waiting_s", sum(waits(v).values()), 1, v.core.step_s)


def waits(v: Variables) -> dict[int, cp_model.IntVar]:
    """The waiting of each visit that can come; of one that does not, none."""
    costs = {}
    for j in v.core.visits():
        if not v.start[j]:
            continue
        job = v.core.jobs[j]
        most = v.core.horizon * (2 * len(job.windows) + 1)
        cost = v.model.new_int_var(-job.alone, most, f"waiting {j}")
        off = [_distance(v, j, number) for number in range(len(job.windows))]
        length = v.end(j, job.last) - v.start[j][job.first]
        v.model.add(cost >= length - job.alone + 2 * sum(off)).only_enforce_if(v.placed[j])
        v.model.add(cost == 0).only_enforce_if(~v.placed[j])
        costs[j] = cost
    return costs


def _distance(v: Variables, j: int, number: int) -> cp_model.LinearExprT:
    """How far a time point is from its target."""
    window = v.core.jobs[j].windows[number]
    off = v.start[j][window.later] - v.start[j][window.earlier] - window.target
    bounds = [
        (gap.low - window.target, gap.high - window.target)
        for gap in v.core.jobs[j].gaps
        if (gap.earlier, gap.later) == (window.earlier, window.later) and gap.high is not None
    ]
    low = max((low for low, _ in bounds), default=-v.core.horizon)
    high = min((high for _, high in bounds), default=v.core.horizon)
    if low >= 0:
        return off
    if high <= 0:
        return -off
    distance = v.model.new_int_var(0, max(high, -low), f"off {j}.{number}")
    v.model.add(distance >= off)
    v.model.add(distance >= -off)
    return distance


def last_end(v: Variables) -> Aim:
    """The end of the last visit, from the opening of the day."""
    end = v.model.new_int_var(0, v.core.horizon, "last end")
    for j in v.core.visits():
        if v.start[j]:
            v.model.add(end >= v.end(j, v.core.jobs[j].last)).only_enforce_if(v.placed[j])
    return Aim("last_end_s", end, 1, v.core.step_s)


AIMS: Mapping[str, Callable[[Variables], Aim]] = {
    "placed": placed,
    "waiting_s": waiting,
    "last_end_s": last_end,
}


def keep(v: Variables, best: Answer, free: list[int], kept: list[str]) -> None:
    """What earlier stages have reached in these visits stays reached."""
    for name in kept:
        part = Answer(
            *(tuple(x if j in free else None for j, x in enumerate(its)) for its in (best.starts, best.given))
        )
        if name == "waiting_s":
            v.model.add(waiting(v).expression * v.core.step_s <= value(v.core, part, name))
        elif name == "last_end_s":
            v.model.add(last_end(v).expression * v.core.step_s <= value(v.core, best, name))


def is_better(name: str, one: int, other: int) -> bool:
    """Whether the first value of a stage beats the second."""
    return one > other if name == "placed" else one < other


def value(core: Core, answer: Answer, name: str) -> int:
    """The stage's value of an answer, in its own unit; no solver needed."""
    here = [(core.jobs[j], starts) for j in core.visits() if (starts := answer.starts[j]) is not None]
    if name == "placed":
        return len(here)
    if name == "last_end_s":
        return core.step_s * max(
            (starts[job.last] + job.lengths[job.last] for job, starts in here), default=0
        )
    total = 0
    for job, starts in here:
        total += starts[job.last] + job.lengths[job.last] - starts[job.first] - job.alone
        total += 2 * sum(abs(starts[w.later] - starts[w.earlier] - w.target) for w in job.windows)
    return core.step_s * total
