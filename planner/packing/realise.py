"""From steps back to the clock: an answer as placed visits and rig tasks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from planner.clock import later, seconds_between
from planner.packing.core import Answer, Core, Use, Wants
from planner.packing.grid import Grid
from planner.packing.problem import DayProblem, key
from planner.schedule.model import Activity, PlacedVisit, PlacedWatch, RigTask
from planner.study.model import Visit
from planner.timing.plan import PlannedActivity, VisitPlan


def placed_visits(problem: DayProblem, core: Core, grid: Grid, answer: Answer) -> tuple[PlacedVisit, ...]:
    """The visits that have a place, on the clock, by start."""
    found = [_visit(problem, core, grid, j, answer) for j in core.visits() if answer.starts[j] is not None]
    return tuple(sorted(found, key=lambda visit: (visit.start.timestamp(), visit.participant, visit.file_id)))


def rig_tasks(core: Core, grid: Grid, answer: Answer) -> tuple[RigTask, ...]:
    """First tasks of the day, by start."""
    found = []
    for j, job in enumerate(core.jobs):
        starts, given = answer.starts[j], answer.given[j]
        if job.prepares is None or starts is None or given is None:
            continue
        staff = {
            use.label: core.resources[r].id
            for use, r in zip(core.uses[j], given, strict=True)
            if use.wants is Wants.STAFF
        }
        begin, end = grid.moment(starts[0]), grid.moment(starts[0] + job.lengths[0])
        found.append(RigTask(core.resources[job.prepares].id, staff, begin, end))
    return tuple(sorted(found, key=lambda task: (task.start.timestamp(), task.rig)))


def _visit(problem: DayProblem, core: Core, grid: Grid, j: int, answer: Answer) -> PlacedVisit:
    visit: Visit = problem.visits[j]
    plan: VisitPlan = problem.plans[visit.protocol]
    starts, given = answer.starts[j], answer.given[j]
    assert starts is not None
    assert given is not None
    activities = [
        _activity(core, core.uses[j], given, planned, grid.moment(starts[planned.index]))
        for planned in plan.activities
    ]
    by_start = sorted(activities, key=lambda activity: activity.start.timestamp())
    return PlacedVisit(visit.participant, visit.kind, visit.number, visit.condition, tuple(by_start))


def _activity(
    core: Core, uses: tuple[Use, ...], given: tuple[int, ...], planned: PlannedActivity, start: datetime
) -> Activity:
    rigs: dict[str, str] = {}
    people: dict[Wants, dict[str, str]] = {Wants.STAFF: {}, Wants.CLEARING: {}, Wants.WATCH: {}}
    for use, r in zip(uses, given, strict=True):
        if not use.first <= planned.index <= use.last:
            continue
        if use.wants is not Wants.RIG:
            people[use.wants][use.label] = core.resources[r].id
        elif use.label in planned.rigs and _same_level(use, planned):
            rigs[use.label] = core.resources[r].id
    end = later(start, planned.length_s)
    cleared = any(rig_class not in planned.keeps for rig_class in planned.rigs) and planned.clear
    return Activity(
        step=planned.step,
        at_s=planned.at_s,
        manoeuvre=planned.manoeuvre,
        rigs=tuple(rigs[rig_class] for rig_class in planned.rigs),
        staff=_ordered(people[Wants.STAFF], planned.staff),
        start=start,
        first_effort=later(start, planned.prepare_s) if planned.manoeuvre else None,
        end=end,
        rig_free=later(end, planned.clear.takes_s) if cleared and planned.clear else end,
        planned_efforts=planned.planned_efforts,
        watch=_watch(planned, people[Wants.WATCH], end),
        clear_staff=people[Wants.CLEARING],
    )


def _same_level(use: Use, planned: PlannedActivity) -> bool:
    """A run of rigs over a bout does not serve the blocks inside the bout, and the other way round."""
    return use.bout == planned.inside


def _ordered(staff: Mapping[str, str], roles: tuple[str, ...]) -> dict[str, str]:
    return {role: staff[role] for role in roles}


def _watch(planned: PlannedActivity, staff: Mapping[str, str], end: datetime) -> PlacedWatch | None:
    if not planned.watch or not planned.watch.for_s:
        return None
    return PlacedWatch(_ordered(staff, planned.watch.staff), later(end, planned.watch.for_s))


def as_answer(problem: DayProblem, core: Core, grid: Grid, hint: Sequence[PlacedVisit]) -> Answer | None:
    """Placed visits as an answer; None where one of them is not asked for, or not on the grid, or changed."""
    numbers = {key(visit): number for number, visit in enumerate(problem.visits)}
    people = {(r.is_person, r.id): number for number, r in enumerate(core.resources)}
    starts: list[tuple[int, ...] | None] = [None] * len(core.jobs)
    given: list[tuple[int, ...] | None] = [None] * len(core.jobs)
    for placed in hint:
        j = numbers.get(key(placed))
        if placed.date != problem.day:
            return None
        plan = problem.plans[problem.visits[j].protocol] if j is not None else None
        if j is None or plan is None:
            continue
        by_key = {(one.step, one.at_s, one.manoeuvre): one for one in placed.activities}
        its = [by_key.get((one.step, one.at_s, one.manoeuvre)) for one in plan.activities]
        seconds = [None if one is None else seconds_between(grid.origin, one.start) for one in its]
        if any(second is None or second % grid.step_s for second in seconds):
            return None
        chosen = [_served(use, its[use.first], plan.activities[use.first]) for use in core.uses[j]]
        known = [
            people.get((use.wants is not Wants.RIG, name or ""))
            for use, name in zip(core.uses[j], chosen, strict=True)
        ]
        if any(r is None or r not in use.choices for r, use in zip(known, core.uses[j], strict=True)):
            return None
        starts[j] = tuple((second or 0) // grid.step_s for second in seconds)
        given[j] = tuple(r for r in known if r is not None)
    return Answer(tuple(starts), tuple(given)) if hint else None


def _served(use: Use, activity: Activity | None, planned: PlannedActivity) -> str | None:
    """The rig or person that serves a use in a placed activity."""
    if activity is None:
        return None
    if use.wants is Wants.RIG:
        return dict(zip(planned.rigs, activity.rigs, strict=False)).get(use.label)
    if use.wants is Wants.STAFF:
        return activity.staff.get(use.label)
    if use.wants is Wants.CLEARING:
        return activity.clear_staff.get(use.label)
    return activity.watch.staff.get(use.label) if activity.watch else None
