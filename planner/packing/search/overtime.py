"""One visit more: placed beyond closing time first, then the day is pressed together until it fits.

Whether a full day takes one visit more is a yes or a no, and gives a search nothing to go by. How far
the visits run over does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core, Job, Resource, closure
from planner.packing.greedy import refill
from planner.packing.insertion import Visitor
from planner.packing.objective import Weights
from planner.packing.search.lns import Hunt
from planner.packing.variables import Variables

LATEST = 4  # visits that are tried anew after each gain
EVEN = 10  # the middle of all weights
DEARER = 15  # a step beyond the end counts so many times as much as a step within the day


@dataclass(frozen=True)
class LongDay:
    """The day with hours added after its end, and when each visit would have to end (`due`)."""

    core: Core
    due: tuple[int, ...]

    @cached_property
    def visitors(self) -> tuple[Visitor, ...]:
        """What can be known of each visit before any day is looked at: the same for each try."""
        return tuple(Visitor(self.core, j) for j in range(len(self.core.jobs)))

    def end(self, answer: Answer, j: int) -> int:
        """When a visit ends; 0 where it has no place."""
        starts, job = answer.starts[j], self.core.jobs[j]
        return 0 if starts is None else starts[job.last] + job.lengths[job.last]

    def over(self, answer: Answer) -> int:
        """Steps beyond the end, over all visits."""
        return sum(max(0, self.end(answer, j) - self.due[j]) for j in self.core.visits())

    def score(self, answer: Answer) -> int:
        """What is made small: ends, those beyond the day several times."""
        return sum(self.end(answer, j) for j in self.core.visits()) + DEARER * self.over(answer)

    def aim(self, v: Variables, _: Answer, free: list[int], weights: Weights) -> cp_model.LinearExprT:
        """The same for some visits, their ends weighted."""
        total: cp_model.LinearExprT = 0
        for j in free:
            end = v.end(j, v.core.jobs[j].last)
            over = v.model.new_int_var(0, v.core.horizon, f"over {j}")
            v.model.add(over >= end - self.due[j])
            total += weights[j] * end + EVEN * DEARER * over
        return total

    def settle(self, answer: Answer) -> Answer:
        """The answer with visits that end late put in anew, one after another, where there is room sooner."""
        here = [j for j in self.core.visits() if answer.starts[j] is not None]
        for j in sorted(here, key=lambda j: self.end(answer, j))[-LATEST:]:
            moved = refill(self.core, without_job(answer, j), [j], self.visitors)
            if moved.starts[j] is not None and self.score(moved) < self.score(answer):
                answer = moved
        return answer

    def hunt(self) -> Hunt:
        """A search that ends as soon as nothing lies beyond the end."""
        loss = max((job.alone for job in self.core.jobs), default=0) // 9
        return Hunt(
            self.score,
            self.aim,
            lambda answer: self.over(answer) == 0,
            self.settle,
            late=True,
            loss=loss,
            quick=True,
        )


def without_job(answer: Answer, j: int) -> Answer:
    """The answer without that job."""
    starts, given = list(answer.starts), list(answer.given)
    starts[j] = given[j] = None
    return Answer(tuple(starts), tuple(given))


def long_day(core: Core, more: int) -> LongDay:
    """The day with `more` steps added after its end, for every visit, rig and person."""
    close = core.horizon
    jobs = tuple(_longer(job, close, more) for job in core.jobs)
    resources = tuple(_open_later(resource, close, more) for resource in core.resources)
    due = tuple(_due(core, j) for j in range(len(core.jobs)))
    return LongDay(replace(core, horizon=close + more, jobs=jobs, resources=resources), due)


def _due(core: Core, j: int) -> int:
    """When a visit must have ended: in its last span, and with its rigs cleared before the day closes."""
    job = core.jobs[j]
    last, after = max((end for _, end in job.within), default=0), 0
    distances = closure(len(job.lengths), job.gaps)
    if distances is None:
        return last
    for use in core.uses[j]:
        done = use.first if use.from_end else use.last
        still = (distances.at_least(done, job.last) or 0) + job.lengths[job.last] - job.lengths[done]
        after = max(after, use.tail - max(0, still))
    return min(last, core.horizon - after)


def _longer(job: Job, close: int, more: int) -> Job:
    """The last span of a visit goes on beyond the end of the day."""
    if not job.within or job.prepares is not None:
        return job
    *spans, (begin, _) = sorted(job.within, key=lambda span: span[1])
    return replace(job, within=(*spans, (begin, close + more)))


def _open_later(resource: Resource, close: int, more: int) -> Resource:
    if resource.free and resource.free[-1][1] == close:
        *spans, (begin, _) = resource.free
        return replace(resource, free=(*spans, (begin, close + more)))
    return replace(resource, free=(*resource.free, (close, close + more)))
