"""Spare time before windows, and earlier ends: nothing changes its rig, person or turn, only moments move.

With every turn kept, both are a matter of differences between starts, and soon solved. The best over
all turns is not searched for here, so of spare time only the cap itself is ever proven.
"""

from __future__ import annotations

import time
from collections.abc import Iterator

from ortools.sat.python import cp_model

from planner.packing.chance.turns import Duty, duties_of
from planner.packing.core import Answer, Core, Use, Wants, stretched
from planner.packing.objective import value
from planner.packing.solve import UNITS, leave_interrupts

Starts = dict[int, list[cp_model.IntVar]]


def spare(core: Core, answer: Answer, cap: int) -> int:
    """The least time for which rigs and people of a windowed block were free of others before it."""
    found = [cap]
    for block, before in _pairs(core, answer):
        found.append(block[0] + block[2].lead - before[1])
    return min(found)


def loosen(
    core: Core,
    answer: Answer,
    cap: int,
    kept: list[str],
    *,
    seconds: float,
    seed: int,
    until: float | None = None,
) -> Answer:
    """The answer with moments moved so that the least spare time is as long as can be, at most `cap`.

    The stages of `kept` lose nothing. `until` (of time.monotonic()) ends it whatever `seconds` says.
    """
    model = cp_model.CpModel()
    starts = _starts(model, core, answer)
    if not starts:
        return answer
    _keep_turns(model, core, answer, starts)
    _keep_stages(model, core, answer, starts, kept)
    least = model.new_int_var(0, cap, "spare")
    for block, before in _pairs(core, answer):
        begin, end = _begin(core, starts, block[2]), _end(core, starts, before[2])
        model.add(begin + block[2].lead - end >= least)
    model.maximize(least)
    return _solved(model, core, answer, starts, seconds, seed, until)


def tighten(
    core: Core, answer: Answer, kept: list[str], *, seconds: float, seed: int, until: float | None = None
) -> Answer:
    """The answer with moments moved so that the last visit ends as early as can be, then all of them."""
    model = cp_model.CpModel()
    starts = _starts(model, core, answer)
    visits = [j for j in core.visits() if j in starts]
    if not visits:
        return answer
    _keep_turns(model, core, answer, starts)
    _keep_stages(model, core, answer, starts, kept)
    last = model.new_int_var(0, core.horizon, "last")
    ends = [starts[j][core.jobs[j].last] + core.jobs[j].lengths[core.jobs[j].last] for j in visits]
    for end in ends:
        model.add(last >= end)
    model.minimize(len(ends) * last + sum(ends))
    return _solved(model, core, answer, starts, seconds, seed, until)


def _solved(
    model: cp_model.CpModel,
    core: Core,
    answer: Answer,
    starts: Starts,
    seconds: float,
    seed: int,
    until: float | None,
) -> Answer:
    """The answer with the starts that the solver finds, the old ones as a hint."""
    for j, its in starts.items():
        for var, moment in zip(its, answer.starts[j] or (), strict=True):
            model.add_hint(var, moment)
    solver = cp_model.CpSolver()
    leave_interrupts(solver)
    solver.parameters.num_workers, solver.parameters.random_seed = 1, seed
    solver.parameters.max_deterministic_time = UNITS * seconds
    if until is not None:
        solver.parameters.max_time_in_seconds = max(0.01, until - time.monotonic())
    if solver.solve(model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return answer
    moved = [
        tuple(solver.value(var) for var in starts[j]) if j in starts else None for j in range(len(core.jobs))
    ]
    return Answer(tuple(moved), answer.given)


def _starts(model: cp_model.CpModel, core: Core, answer: Answer) -> Starts:
    """A start for every placed activity, with the distances and the span of its job."""
    found: Starts = {}
    for j, (job, moments) in enumerate(zip(core.jobs, answer.starts, strict=True)):
        if moments is None:
            continue
        its = [model.new_int_var(0, core.horizon, f"start {j}.{i}") for i in range(len(moments))]
        for gap in stretched(job):
            model.add(its[gap.later] - its[gap.earlier] >= gap.low)
            if gap.high is not None:
                model.add(its[gap.later] - its[gap.earlier] <= gap.high)
        begin, end = moments[job.first], moments[job.last] + job.lengths[job.last]
        low, high = next(span for span in job.within if span[0] <= begin and end <= span[1])
        model.add(its[job.first] >= low)
        model.add(its[job.last] + job.lengths[job.last] <= high)
        allowed = next(span for span in job.starts if span[0] <= begin <= span[1])
        model.add_linear_constraint(its[job.first], *allowed)
        found[j] = its
    for a, b in core.in_turn:
        if a in found and b in found:
            job = core.jobs[a]
            model.add(found[a][job.last] + job.lengths[job.last] <= found[b][core.jobs[b].first])
    for a, b, most in core.near:
        if a in found and b in found:
            model.add(found[b][core.jobs[b].first] - found[a][core.jobs[a].first] <= most)
    return found


def _keep_turns(model: cp_model.CpModel, core: Core, answer: Answer, starts: Starts) -> None:
    """Each rig and person goes through the same uses in the same order, within the same free time.

    Uses that overlap now (a watch, a block in its bout) are kept as far apart as they are.
    """
    for r, duties in duties_of(core, answer).items():
        for place, (start, end, use) in enumerate(duties):
            low, high = next(span for span in core.resources[r].free if span[0] <= start and end <= span[1])
            model.add(_begin(core, starts, use) >= low)
            model.add(_end(core, starts, use) <= high)
            for other_start, _, other in duties[place + 1 :]:
                if end <= other_start:
                    model.add(_end(core, starts, use) <= _begin(core, starts, other))
                else:
                    model.add(_begin(core, starts, other) - _begin(core, starts, use) == other_start - start)


def _keep_stages(
    model: cp_model.CpModel, core: Core, answer: Answer, starts: Starts, kept: list[str]
) -> None:
    """Waiting in all, and the last end, are no worse than they were."""
    visits = [j for j in core.visits() if j in starts]
    if "last_end_s" in kept:
        latest = value(core, answer, "last_end_s") // core.step_s
        for j in visits:
            model.add(starts[j][core.jobs[j].last] + core.jobs[j].lengths[core.jobs[j].last] <= latest)
    if "waiting_s" not in kept:
        return
    total: cp_model.LinearExprT = 0
    for j in visits:
        job, its = core.jobs[j], starts[j]
        total += its[job.last] + job.lengths[job.last] - its[job.first] - job.alone
        for number, window in enumerate(job.windows):
            off = model.new_int_var(0, core.horizon, f"off {j}.{number}")
            distance = its[window.later] - its[window.earlier] - window.target
            model.add(off >= distance)
            model.add(off >= -distance)
            total += 2 * off
    model.add(total <= value(core, answer, "waiting_s") // core.step_s)


def _pairs(core: Core, answer: Answer) -> Iterator[tuple[Duty, Duty]]:
    """Each use that a windowed block begins with, and the last duty towards anyone else before it."""
    for duties in duties_of(core, answer).values():
        for duty in duties:
            use = duty[2]
            held = use.wants in (Wants.RIG, Wants.STAFF) and any(
                window.block == use.first for window in core.jobs[use.job].windows
            )
            others = [one for one in duties if one[2].job != use.job and one[1] <= duty[0] + use.lead]
            if held and others:
                yield duty, max(others, key=lambda one: one[1])


def _begin(core: Core, starts: Starts, use: Use) -> cp_model.LinearExprT:
    first = starts[use.job][use.first]
    return first + core.jobs[use.job].lengths[use.first] if use.from_end else first - use.lead


def _end(core: Core, starts: Starts, use: Use) -> cp_model.LinearExprT:
    return starts[use.job][use.last] + core.jobs[use.job].lengths[use.last] + use.tail
