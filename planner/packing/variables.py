"""What the solver may choose: which visits come, when each activity starts, and who and what serves it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TypeAlias

from ortools.sat.python import cp_model

from planner.packing.core import Core, Distances, Job, Span, Use, closure, stretched

Literal: TypeAlias = cp_model.IntVar  # of the values 0 and 1


@dataclass(frozen=True)
class Variables:
    """The choices of one day. `start[j]` is empty for a job that cannot come at all.

    `placed[j]` is a literal; `given[j][u][r]` the literal that use u of job j has resource r;
    `line[j][k]` that job j lies within its span k (empty where there is one span).
    """

    core: Core
    model: cp_model.CpModel
    placed: tuple[Literal, ...]
    start: tuple[tuple[cp_model.IntVar, ...], ...]
    given: tuple[tuple[dict[int, Literal], ...], ...]
    line: tuple[tuple[Literal, ...], ...]
    yes: Literal
    no: Literal
    run_sizes: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)

    def end(self, job: int, activity: int) -> cp_model.LinearExpr:
        """The end of an activity."""
        return self.start[job][activity] + self.core.jobs[job].lengths[activity]

    def uses(self) -> Iterator[tuple[int, Use]]:
        """Each use of each job that can come, with its number in its job."""
        for job, uses in enumerate(self.core.uses):
            if self.start[job]:
                yield from enumerate(uses)

    def span(self, use: Use) -> tuple[cp_model.LinearExprT, cp_model.LinearExprT, int | None]:
        """Start and end of a use, and its length where that is fixed."""
        length = self.core.jobs[use.job].lengths[use.first]
        begin = self.start[use.job][use.first]
        if use.from_end:
            return begin + length, begin + length + use.tail, use.tail
        if use.first == use.last:
            return begin - use.lead, begin + length + use.tail, use.lead + length + use.tail
        return begin - use.lead, self.end(use.job, use.last) + use.tail, None


def add_variables(model: cp_model.CpModel, core: Core) -> Variables:
    """All choices of the day; domains follow from each job's own distances, not from the day."""
    yes, no = model.new_constant(1), model.new_constant(0)
    placed, start, given, line = [], [], [], []
    for j, job in enumerate(core.jobs):
        domains = _domains(job)
        here = _presence(model, f"here {j}", job, bool(domains), yes, no)
        holding = holding_spans(job) if domains else []
        placed.append(here)
        start.append(tuple(model.new_int_var_from_domain(d, f"start {j}.{i}") for i, d in enumerate(domains)))
        given.append(
            tuple(_givens(model, use, here, f"{j}.{u}", bool(domains)) for u, use in enumerate(core.uses[j]))
        )
        line.append(
            tuple(model.new_bool_var(f"line {j}.{k}") for k in range(len(holding)))
            if len(holding) > 1
            else ()
        )
    return Variables(core, model, tuple(placed), tuple(start), tuple(given), tuple(line), yes, no)


def _presence(model: cp_model.CpModel, name: str, job: Job, fits: bool, yes: Literal, no: Literal) -> Literal:
    if not fits:
        return no
    return yes if job.must else model.new_bool_var(name)


def _givens(
    model: cp_model.CpModel, use: Use, here: Literal, name: str, can_come: bool
) -> dict[int, Literal]:
    """A literal for each choice; no new one where there is a single choice, or the job cannot come."""
    if len(use.choices) == 1 or not can_come:
        return dict.fromkeys(use.choices, here)
    return {r: model.new_bool_var(f"given {name} {r}") for r in use.choices}


def first_start_spans(job: Job, distances: Distances) -> list[Span]:
    """The spans of the job's first start within which the whole job fits."""
    least = distances.at_least(job.first, job.last) or 0
    shortest = least + job.lengths[job.last]
    return [
        (max(begin, low), min(end - shortest, high))
        for begin, end in job.within
        for low, high in job.starts
        if max(begin, low) <= min(end - shortest, high)
    ]


def holding_spans(job: Job) -> list[Span]:
    """The spans of `within` that are long enough for the job, in order."""
    distances = closure(len(job.lengths), stretched(job))
    assert distances is not None
    shortest = (distances.at_least(job.first, job.last) or 0) + job.lengths[job.last]
    return [span for span in job.within if span[1] - span[0] >= shortest]


def _domains(job: Job) -> list[cp_model.Domain]:
    """The possible starts of each activity; empty where the job fits nowhere."""
    distances = closure(len(job.lengths), stretched(job))
    if distances is None or not (spans := first_start_spans(job, distances)):
        return []
    ends = {(low, high): max(e for b, e in job.within if b <= low and high <= e) for low, high in spans}
    return [
        cp_model.Domain.from_intervals([_reach(job, distances, i, span, ends[span]) for span in spans])
        for i in range(len(job.lengths))
    ]


def _reach(job: Job, distances: Distances, activity: int, span: Span, end: int) -> list[int]:
    """Earliest and latest start of an activity, with the job's start in `span` and its end by `end`."""
    low = span[0] + (distances.at_least(job.first, activity) or 0)
    after = distances.at_least(activity, job.last)
    high = end - job.lengths[job.last] - (after or 0)
    back = distances.at_least(activity, job.first)
    if back is not None:
        high = min(high, span[1] - back)
    return [low, high]
