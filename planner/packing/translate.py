"""A day of a study as a `Core`: clock times to steps, ids to numbers, wishes to fewer choices."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime, time

from planner.clock import Interval, at_clock, seconds_between, without
from planner.packing.core import EVER, Core, Job, Resource, Span, Use, Wants
from planner.packing.demands import gaps, windows
from planner.packing.grid import Grid, finest_step
from planner.packing.jobs import visit_job, wishes_for
from planner.packing.near import near_visits
from planner.packing.occupied import Busy, occupied
from planner.packing.problem import DayProblem

Uses = tuple[tuple[int, int], ...]


def translate(problem: DayProblem, step_s: int | None = None) -> tuple[Core, Grid]:
    """The day in steps of the finest grid that loses nothing (or of `step_s`), and that grid."""
    busy = occupied(problem)
    hours = problem.study.open.get(problem.day, ())
    origin = hours[0].start if hours else at_clock(problem.day, time(), problem.study.zone)
    grid = Grid(origin, step_s or finest_step(_seconds(problem, busy, origin)))
    resources = (*_rigs(problem, busy, grid), *_people(problem, busy, grid))
    made = [visit_job(problem, grid, resources, number) for number in range(len(problem.visits))]
    jobs, wanted = [job for job, _ in made], [uses for _, uses in made]
    same, served_by = tuple(_same(problem, wanted)), tuple(_served_by(problem, resources, wanted))
    for job, uses in _first_uses(problem, busy, grid, resources, len(jobs)):
        jobs.append(job)
        wanted.append(uses)
    ends = [span[1] for r in resources for span in r.free] + [span[1] for job in jobs for span in job.within]
    horizon = max([0, *ends])
    turns = tuple(_in_turn(problem))
    most, near = _most(problem), near_visits(problem, grid, turns)
    rules = same, served_by, turns, most, near
    return Core(grid.step_s, horizon, tuple(jobs), tuple(wanted), resources, *rules), grid


def _most(problem: DayProblem) -> int | None:
    """How many visits the laboratory takes beside those that stay as they are; those that must come count."""
    cap = problem.study.at_most_visits_a_day
    if cap is None:
        return None
    return max(0, cap - sum(visit.date == problem.day for visit in problem.frozen))


def _seconds(problem: DayProblem, busy: Busy, origin: datetime) -> Iterator[int]:
    """Every length, distance and clock time of the day in seconds: what the grid must divide."""
    exact = Grid(origin, 1)
    for name in {visit.protocol: None for visit in problem.visits}:
        plan = problem.plans[name]
        for gap in gaps(plan, exact):
            yield from (gap.low, gap.high or 0)
        yield from (window.target for window in windows(plan, exact))
        for activity in plan.activities:
            yield activity.length_s
            yield activity.clear.takes_s if activity.clear else 0
            yield activity.watch.for_s if activity.watch else 0
        yield plan.alone_s
    for number in range(len(problem.visits)):
        job, _ = visit_job(problem, exact, (), number)
        yield from (second for span in job.within for second in span)
        yield from (second for span in job.starts if span != EVER for second in span)
    for resource in (*_rigs(problem, busy, exact), *_people(problem, busy, exact)):
        yield from (second for span in resource.free for second in span)
    yield from (first_use.takes_s for first_use in problem.study.before_first_use.values())
    yield from (problem.guard_s, problem.study.at_most_waiting_s or 0)
    near = near_visits(problem, exact, tuple(_in_turn(problem)))
    yield from (apart_s for _, _, apart_s in near if apart_s > 0)
    for hours in problem.study.open.get(problem.day, ()):
        yield from (seconds_between(origin, moment) for moment in hours)


def _rigs(problem: DayProblem, busy: Busy, grid: Grid) -> Iterator[Resource]:
    hours = problem.study.open.get(problem.day, ())
    for rig in problem.study.rigs:
        free = _free(grid, hours, (*rig.out, *busy.rigs.get(rig.id, ())))
        yield Resource(rig.id, False, frozenset(rig.classes), free)


def _people(problem: DayProblem, busy: Busy, grid: Grid) -> Iterator[Resource]:
    for person in problem.study.people:
        free = _free(grid, person.works.get(problem.day, ()), busy.people.get(person.id, ()))
        yield Resource(person.id, True, frozenset(person.roles), free)


def _free(grid: Grid, hours: Sequence[Interval], taken: Sequence[Interval]) -> tuple[Span, ...]:
    spans = (grid.inward(left) for left in without(hours, taken))
    return tuple(span for span in spans if span[0] < span[1])


def _same(problem: DayProblem, wanted: Sequence[Sequence[Use]]) -> Iterator[Uses]:
    """Uses of one visit that must share one rig, or one person."""
    for job, uses in enumerate(wanted):
        for label in problem.study.keep_same_within:
            for wants in (Wants.RIG, Wants.STAFF):
                found = tuple(
                    (job, n) for n, use in enumerate(uses) if use.label == label and use.wants is wants
                )
                if len(found) > 1:
                    yield found


def _served_by(
    problem: DayProblem, resources: Sequence[Resource], wanted: Sequence[Sequence[Use]]
) -> Iterator[tuple[Uses, int]]:
    """For each activity whose visit is fixed to a person: the uses one of which that person serves."""
    numbers = {resource.id: number for number, resource in enumerate(resources) if resource.is_person}
    for job, uses in enumerate(wanted):
        for person in {wish.person for wish in wishes_for(problem, problem.visits[job])} & set(numbers):
            number = numbers[str(person)]
            for activity in sorted({use.first for use in uses}):
                found = tuple(
                    (job, n)
                    for n, use in enumerate(uses)
                    if use.first == activity and use.wants is Wants.STAFF and number in use.choices
                )
                if found:
                    yield found, number


def _first_uses(
    problem: DayProblem, busy: Busy, grid: Grid, resources: Sequence[Resource], number: int
) -> Iterator[tuple[Job, tuple[Use, ...]]]:
    """Each rig's first task of the day as a job, unless it is done or the rig is in use already."""
    done = (busy.used | {task.rig for task in problem.frozen_tasks}) - problem.unchecked
    hours = tuple(grid.inward(hours) for hours in problem.study.open.get(problem.day, ()))
    needed = _first_used(problem, grid)
    for first_use in problem.study.before_first_use.values():
        length = grid.up(first_use.takes_s)
        for rig, resource in enumerate(resources):
            if resource.is_person or first_use.rig_class not in resource.labels or resource.id in done:
                continue
            key = ("first use", first_use.rig_class, resource.id)
            within = _until(hours, needed.get(resource.id))
            must = resource.id in needed
            job = Job(key, (length,), (), (), within, (EVER,), 0, 0, length, None, must, None, rig)
            roles = [(Wants.STAFF, role) for role in first_use.staff]
            uses = [Use(number, Wants.RIG, first_use.rig_class, 0, 0, 0, (rig,))]
            for wants, role in roles:
                people = tuple(n for n, r in enumerate(resources) if r.is_person and role in r.labels)
                uses.append(Use(number, wants, role, 0, 0, 0, people))
            yield job, tuple(uses)
            number += 1


def _first_used(problem: DayProblem, grid: Grid) -> dict[str, int]:
    """When a visit that stays as it is first uses each rig that has not been checked."""
    found: dict[str, int] = {}
    for activity in (one for visit in problem.frozen for one in visit.activities):
        step = seconds_between(grid.origin, activity.start) // grid.step_s
        for rig in problem.unchecked.intersection(activity.rigs):
            found[rig] = min(step, found.get(rig, step))
    return found


def _until(spans: Sequence[Span], end: int | None) -> tuple[Span, ...]:
    """The spans up to that step."""
    return tuple(spans) if end is None else tuple((a, min(b, end)) for a, b in spans if a < min(b, end))


def _in_turn(problem: DayProblem) -> Iterator[tuple[int, int]]:
    """Visits of one participant on the same day, in the order in which they come."""
    numbers: dict[str, list[int]] = defaultdict(list)
    for number, visit in enumerate(problem.visits):
        numbers[visit.participant].append(number)
    for participant, its in numbers.items():
        asked = problem.study.asked.get(participant, ())
        places = {number: asked.index(problem.visits[number]) for number in its if len(its) > 1}
        yield from ((i, j) for i in its for j in its if i != j and places[i] < places[j])
