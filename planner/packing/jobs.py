"""A visit of a study as a `Job` of the day: where it may lie and what it may choose."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import time, timedelta

from planner.clock import Interval, at_clock, without
from planner.packing.core import EVER, Gap, Job, Resource, Span, Use, Wants, closure
from planner.packing.demands import gaps, uses, windows
from planner.packing.grid import Grid
from planner.packing.problem import DayProblem, key
from planner.schedule.model import PlacedVisit
from planner.study.model import Visit, Wish
from planner.timing.plan import VisitPlan


def visit_job(
    problem: DayProblem, grid: Grid, resources: Sequence[Resource], number: int
) -> tuple[Job, tuple[Use, ...]]:
    """Visit `number` of the problem as a job, and what it uses."""
    visit = problem.visits[number]
    plan = problem.plans[visit.protocol]
    wanted = uses(number, plan, grid, problem.guard_s, lambda w, n: _choices(problem, resources, visit, w, n))
    found = gaps(plan, grid)
    first, last, fits = first_and_last(plan, found, grid)
    may_serve = _may_serve(problem, resources, visit, wanted)
    most_s = problem.study.at_most_waiting_s
    job = Job(
        key=key(visit),
        lengths=tuple(grid.up(activity.length_s) for activity in plan.activities),
        gaps=found,
        windows=windows(plan, grid),
        within=_within(problem, grid, visit) if fits and may_serve else (),
        starts=_starts(problem, grid, visit),
        first=first,
        last=last,
        alone=grid.up(plan.alone_s),
        stretch=None if most_s is None else grid.down(most_s),
        must=visit in problem.must,
    )
    return replace(job, alike=_alike(problem, visit, job, wanted)), wanted


def wishes_for(problem: DayProblem, visit: Visit) -> list[Wish]:
    """The wishes that speak of this visit."""
    return [
        wish
        for wish in problem.study.wishes
        if wish.participant == visit.participant and wish.visit in (None, visit.file_id)
    ]


def _choices(
    problem: DayProblem, resources: Sequence[Resource], visit: Visit, wants: Wants, label: str
) -> tuple[int, ...]:
    """The resources of that class or role which the visit may have, by number."""
    is_person = wants is not Wants.RIG
    allowed = problem.allowed_people if is_person else problem.allowed_rigs
    named = allowed.get((key(visit), label))
    found = [
        number
        for number, resource in enumerate(resources)
        if resource.is_person == is_person
        and label in resource.labels
        and (named is None or resource.id in named)
    ]
    wished = set() if is_person else {wish.rig for wish in wishes_for(problem, visit)}
    if any(resource.id in wished and label in resource.labels for resource in resources):
        return tuple(number for number in found if resources[number].id in wished)
    return tuple(found)


def _may_serve(
    problem: DayProblem, resources: Sequence[Resource], visit: Visit, wanted: Sequence[Use]
) -> bool:
    """Whether whoever is wished for may serve each activity that asks for a role that they have."""
    people = {wish.person for wish in wishes_for(problem, visit)}
    for number, resource in enumerate(resources):
        if not resource.is_person or resource.id not in people:
            continue
        asked = [use for use in wanted if use.wants is Wants.STAFF and use.label in resource.labels]
        served = {use.first for use in asked if number in use.choices}
        if any(use.first not in served for use in asked):
            return False
    return True


def first_and_last(plan: VisitPlan, found: Sequence[Gap], grid: Grid) -> tuple[int, int, bool]:
    """The activity that starts first, the one that ends last, and whether the gaps agree at all."""
    count = len(plan.activities)
    lengths = [grid.up(activity.length_s) for activity in plan.activities]
    distances = closure(count, found)
    if distances is None:
        return 0, count - 1, False

    def is_first(i: int) -> bool:
        return all((d := distances.at_least(i, j)) is not None and d >= 0 for j in range(count))

    def is_last(i: int) -> bool:
        return all(
            (d := distances.at_least(j, i)) is not None and d + lengths[i] >= lengths[j] for j in range(count)
        )

    first = next(filter(is_first, range(count)))
    return first, next(filter(is_last, reversed(range(count)))), True


def _alike(problem: DayProblem, visit: Visit, job: Job, wanted: Sequence[Use]) -> object:
    """Equal for visits that could change places without anybody noticing; None: like no other."""
    of_participant = [other for other in problem.visits if other.participant == visit.participant]
    if len(of_participant) > 1 or any(wish.person for wish in wishes_for(problem, visit)):
        return None
    return visit.protocol, job.within, job.starts, job.must, tuple(use.choices for use in wanted)


def _within(problem: DayProblem, grid: Grid, visit: Visit) -> tuple[Span, ...]:
    """The spans one of which holds the visit: availability, less fixed visits of the participant."""
    if any(wish.date not in (None, problem.day) for wish in wishes_for(problem, visit)):
        return ()
    there = [
        _shut_by(problem, visit, placed)
        for placed in problem.frozen
        if placed.participant == visit.participant
    ]
    pieces = {
        grid.inward(piece)
        for line in problem.study.may_come(visit, problem.day)
        for piece in without((line,), there)
    }
    return tuple(sorted(span for span in pieces if span[0] < span[1]))


def _shut_by(problem: DayProblem, visit: Visit, placed: PlacedVisit) -> Interval:
    """When the visit cannot be for another one of its participant that stays: meanwhile, and out of turn."""
    names = [key(other) for other in problem.study.asked.get(visit.participant, ())]
    if key(placed) not in names or key(visit) not in names:
        return Interval(placed.start, placed.end)
    midnight = at_clock(problem.day, time(), problem.study.zone)
    if names.index(key(placed)) < names.index(key(visit)):
        return Interval(midnight, placed.end)
    return Interval(placed.start, midnight + timedelta(days=1))


def _starts(problem: DayProblem, grid: Grid, visit: Visit) -> tuple[Span, ...]:
    """The spans for a visit's start, both ends included: what several rules allow, cut together."""
    allowed: list[Span] = [EVER]
    for intervals in _start_rules(problem, visit):
        spans = [grid.inward(interval) for interval in intervals]
        allowed = [(max(a, b), min(c, d)) for a, c in allowed for b, d in spans if max(a, b) <= min(c, d)]
    return tuple(sorted(set(allowed)))


def _start_rules(problem: DayProblem, visit: Visit) -> Iterator[Sequence[Interval]]:
    if visit.start:
        zone = problem.study.zone
        yield [Interval(*(at_clock(problem.day, clock, zone) for clock in visit.start))]
    if (given := problem.start_windows.get(key(visit))) is not None:
        yield given
    for wish in wishes_for(problem, visit):
        if wish.start:
            yield [Interval(wish.start, wish.start)]
