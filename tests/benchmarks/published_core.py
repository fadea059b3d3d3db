"""Published problems in the packing's own building blocks: a task is an activity, a resource a rig.

A project with time lags is one visit whose activities hang together by gaps; a job of a shop is a visit of
its own. Two things that no visit has are added here: a use may take more than one of a resource, and the
length of an activity may depend on the rig that it is given.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from ortools.sat.python import cp_model
from published import Problem, Timetable, Way

from planner.packing.core import EVER, Answer, Core, Gap, Job, Resource, Use, Wants
from planner.packing.rules import one_of_each_class_and_role, order_windows_and_stretch
from planner.packing.variables import Literal, Variables, add_variables
from planner.packing.who_first import Apart, Matrix, network_of, settle


@dataclass(frozen=True)
class Choice:
    """One way in which a use may be served: the rig, its literal, and how the task is done then."""

    use: Use
    rig: int
    literal: Literal
    way: Way

    @property
    def amount(self) -> int:
        """How much it takes of the rig."""
        return dict(self.way.takes)[self.rig]

    @property
    def load(self) -> int:
        """Its amount times its length."""
        return self.amount * self.way.length


def horizon(problem: Problem) -> int:
    """An end that some best solution keeps: every task one after another, each with its longest wait."""
    longest = [max(way.length for way in ways) for ways in problem.tasks]
    for a, _, low in problem.lags:
        longest[a] = max(longest[a], low)
    return sum(longest)


def chains(problem: Problem) -> tuple[tuple[int, ...], ...]:
    """The tasks of each job; of a project all together."""
    return problem.chains or (tuple(range(len(problem.tasks))),)


def core_of(problem: Problem) -> Core:
    """The problem as a day with a step a unit."""
    end = horizon(problem)
    rigs = tuple(
        Resource(f"R{r}", False, frozenset({f"R{r}"}), ((0, end),), many=room)
        for r, room in enumerate(problem.capacity)
    )
    jobs = tuple(_job(problem, j, chain, end) for j, chain in enumerate(chains(problem)))
    uses = tuple(tuple(_uses(problem, j, chain)) for j, chain in enumerate(chains(problem)))
    return Core(1, end, jobs, uses, rigs)


def _job(problem: Problem, number: int, chain: tuple[int, ...], end: int) -> Job:
    lengths = tuple(min(way.length for way in problem.tasks[task]) for task in chain)
    last = len(chain) - 1
    if problem.chains:
        gaps = [Gap(i, i + 1, lengths[i]) for i in range(last)]
    else:
        gaps = [Gap(a, b, low) for a, b, low in problem.lags]
        gaps += [Gap(0, i, 0) for i in range(1, last)] + [Gap(i, last, lengths[i]) for i in range(last)]
    return Job(number, lengths, tuple(gaps), (), ((0, end),), (EVER,), 0, last, sum(lengths), None, True)


def _uses(problem: Problem, number: int, chain: tuple[int, ...]) -> list[Use]:
    """A use for each activity that may be on one of several rigs, or for each resource that it takes."""
    found = []
    for i, task in enumerate(chain):
        ways = problem.tasks[task]
        if len(ways) > 1:
            choices = tuple(way.takes[0][0] for way in ways)
            found.append(Use(number, Wants.RIG, "rig", i, i, 0, choices))
        elif ways[0].length or problem.chains:
            found += [Use(number, Wants.RIG, "rig", i, i, 0, (r,)) for r, _ in ways[0].takes]
    return found


def settled(problem: Problem, core: Core) -> Matrix | None:
    """What follows of a project from pairs that take more than there is of a resource; None: no solution."""
    ways = [its[0] for its in problem.tasks]
    takes = [dict(way.takes) for way in ways]
    apart = [
        Apart(1 + a, 1 + a, 1 + b, 1 + b, ways[a].length, ways[b].length)
        for a, b in combinations([t for t, way in enumerate(ways) if way.length], 2)
        if any(takes[b].get(r, 0) + n > problem.capacity[r] for r, n in ways[a].takes)
    ]
    return settle(replace(network_of(core), apart=tuple(apart)))


def with_distances(core: Core, least: Matrix) -> Core:
    """A project with what follows from its pairs as gaps: orders that are settled, and later starts."""
    (job,) = core.jobs
    known = least[1:, 1:]
    longer = [
        Gap(int(a), int(b), int(known[a, b]))
        for a, b in np.argwhere((known >= np.array(job.lengths)[:, None]) & (known > 0))
    ]
    return replace(core, jobs=(replace(job, gaps=(*job.gaps, *_not_implied(known, longer))),))


def _not_implied(known: Matrix, gaps: list[Gap]) -> list[Gap]:
    """The gaps that no moment between two others makes superfluous."""
    kept = []
    for gap in gaps:
        through = known[gap.earlier] + known[:, gap.later]
        through[[gap.earlier, gap.later]] = gap.low - 1
        if through.max() < gap.low:
            kept.append(gap)
    return kept


def choices(problem: Problem, v: Variables) -> list[Choice]:
    """Every way in which every use may be served."""
    found = []
    for number, use in v.uses():
        ways = problem.tasks[chains(problem)[use.job][use.first]]
        by_rig = {r: way for way in ways for r, _ in way.takes}
        found += [Choice(use, r, literal, by_rig[r]) for r, literal in v.given[use.job][number].items()]
    return found


def model_of(problem: Problem, core: Core) -> tuple[Variables, cp_model.IntVar]:
    """The core's own choices and rules, with amounts and lengths that depend on the rig; and the last end."""
    v = add_variables(cp_model.CpModel(), core)
    if not all(v.start):
        return v, v.model.new_constant(0)
    order_windows_and_stretch(v)
    one_of_each_class_and_role(v)
    its = choices(problem, v)
    _one_at_a_time(v, its)
    return v, _last_end(v, its)


def _one_at_a_time(v: Variables, its: list[Choice]) -> None:
    on: dict[int, list[tuple[cp_model.IntervalVar, int]]] = defaultdict(list)
    for one in its:
        start, length = v.start[one.use.job][one.use.first], one.way.length
        interval = v.model.new_optional_fixed_size_interval_var(start, length, one.literal, "")
        on[one.rig].append((interval, one.amount))
    for r, taken in on.items():
        intervals, amounts = [i for i, _ in taken], [amount for _, amount in taken]
        if v.core.resources[r].many == 1:
            v.model.add_no_overlap(intervals)
        else:
            v.model.add_cumulative(intervals, amounts, v.core.resources[r].many)


def _last_end(v: Variables, its: list[Choice]) -> cp_model.IntVar:
    """The last end: after every last activity, and no less than the whole load of any rig takes."""
    end = v.model.new_int_var(0, v.core.horizon, "last end")
    for j, job in enumerate(v.core.jobs):
        v.model.add(end >= v.end(j, job.last))
    for one in its:
        job = v.core.jobs[one.use.job]
        after = end if one.use.first == job.last else v.start[one.use.job][one.use.first + 1]
        if one.way.length > job.lengths[one.use.first]:
            v.model.add(after >= v.start[one.use.job][one.use.first] + one.way.length).only_enforce_if(
                one.literal
            )
    for r, load in loads(its).items():
        v.model.add(v.core.resources[r].many * end >= load)
    return end


def loads(its: list[Choice]) -> dict[int, cp_model.LinearExprT]:
    """What each rig is busy in all, as an expression of what is given to it."""
    by_rig: dict[int, list[Choice]] = defaultdict(list)
    for one in its:
        by_rig[one.rig].append(one)
    return {r: sum(one.load * one.literal for one in group) for r, group in by_rig.items()}


def as_timetable(problem: Problem, answer: Answer) -> Timetable:
    """The answer as starts and ways of the tasks."""
    starts = [start for its in answer.starts for start in its or ()]
    if not problem.chains:
        return Timetable(tuple(starts), (0,) * len(starts))
    given = [r for its in answer.given for r in its or ()]
    ways = [
        next(n for n, way in enumerate(its) if way.takes[0][0] == r)
        for its, r in zip(problem.tasks, given, strict=True)
    ]
    return Timetable(tuple(starts), tuple(ways))
