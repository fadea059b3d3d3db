"""Checks of rigs before their first use: which cannot stay on a running day, and where they go instead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from ortools.sat.python import cp_model

from planner.clock import Interval
from planner.packing.core import Answer, Wants
from planner.packing.intervals import make_intervals
from planner.packing.mend.core import RunningDay
from planner.packing.mend.facts import kept_longer
from planner.packing.mend.standing import Facts
from planner.packing.mend.study import from_now
from planner.packing.rules import add_rules
from planner.packing.solve import Limits, run
from planner.packing.variables import Variables, add_variables
from planner.schedule.model import RigTask

SECONDS = 2.0  # at most: with all visits in their places it takes a moment


def with_checks_hit(known: Facts, tasks: Sequence[RigTask]) -> Facts:
    """The facts with the checks that must be done anew, and word to begun visits that wait for them."""
    rigs = {task.rig for task in tasks if not _stays(task, known)}
    anew = tuple(t for t in tasks if t.rig in rigs and not (_has_begun(t, known) and _stays(t, known)))
    for standing in known.standings:
        free = standing.free() if standing.begun else ()
        standing.is_hit = standing.is_hit or any(rigs & {*standing.by_index[i].rigs} for i in free)
    return replace(known, unchecked=anew)


def _has_begun(task: RigTask, known: Facts) -> bool:
    return task.start.timestamp() < known.now.timestamp()


def _stays(task: RigTask, known: Facts) -> bool:
    """Whether a check can be done as planned; who does one that has begun may leave, its rig may not fail."""
    gone = from_now(known.troubles.out_of_use, task.rig, known.now)
    if not _has_begun(task, known):
        for person in task.staff.values():
            gone += from_now(known.troubles.absent, person, known.now)
    gone += _held(task, known)
    return not any(span.meets(task.interval) for span in gone)


def _held(task: RigTask, known: Facts) -> Iterator[Interval]:
    """When something that lasts longer than planned keeps the people of a check that was to follow it."""
    for standing in known.standings:
        for i, end in standing.ends.items():
            for name, span in kept_longer(standing, i, end):
                is_after = span.start.timestamp() <= task.start.timestamp()
                if is_after and name in (task.rig, *task.staff.values()):
                    yield span


def with_checks(day: RunningDay, answer: Answer, workers: int) -> Answer | None:
    """The answer with its checks as near to where they were as can be, by the same people where they can.

    Every visit stays as the answer has it. None where the checks have no place beside them.
    """
    if not day.checks:
        return answer
    v = add_variables(cp_model.CpModel(), day.core)
    if any(job.must and not v.start[j] for j, job in enumerate(day.core.jobs)):
        return None
    add_rules(v, make_intervals(v))
    for j in day.core.visits():
        _pin(v, j, answer)
    terms = [_cost(v, day, j) for j, job in enumerate(day.core.jobs) if job.prepares is not None]
    return run(v, sum(terms), Limits(SECONDS, workers, day.problem.study.seed)).answer


def _pin(v: Variables, j: int, answer: Answer) -> None:
    starts, given = answer.starts[j], answer.given[j]
    v.model.add(v.placed[j] == int(starts is not None))
    if starts is None or given is None:
        return
    for here, start in zip(v.start[j], starts, strict=True):
        v.model.add(here == start)
    for choices, r in zip(v.given[j], given, strict=True):
        if r in choices:
            v.model.add(choices[r] == 1)


def _cost(v: Variables, day: RunningDay, j: int) -> cp_model.LinearExprT:
    """How far a check is from where it was: another person counts as much as its own length."""
    if not v.start[j]:
        return 0
    most, old = 2 * v.core.horizon, day.checks.get(j)
    needless = 4 * most * v.placed[j]
    if old is None:
        return needless
    off = v.model.new_int_var(0, most, f"check {j}")
    for way in (1, -1):
        v.model.add(way * (v.start[j][0] - day.steps(old.start)) <= off).only_enforce_if(v.placed[j])
    people = {r.id: n for n, r in enumerate(v.core.resources) if r.is_person}
    same = [
        v.given[j][u].get(people.get(old.staff.get(use.label, ""), -1), v.no)
        for u, use in enumerate(v.core.uses[j])
        if use.wants is Wants.STAFF
    ]
    return needless + off + v.core.jobs[j].lengths[0] * sum(v.placed[j] - one for one in same)
