"""What already fixed visits and rig tasks take of rigs and people."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from planner.clock import Interval, later
from planner.packing.problem import DayProblem
from planner.schedule.model import Activity, PlacedVisit
from planner.study.model import Visit
from planner.timing.plan import PlannedActivity, VisitPlan


@dataclass(frozen=True)
class Busy:
    """Taken times by rig and by person, and the rigs that a fixed visit uses (their day has begun)."""

    rigs: Mapping[str, tuple[Interval, ...]]
    people: Mapping[str, tuple[Interval, ...]]
    used: frozenset[str]


def occupied(problem: DayProblem) -> Busy:
    """All that the frozen visits and tasks of the problem take."""
    rigs: dict[str, list[Interval]] = defaultdict(list)
    people: dict[str, list[Interval]] = defaultdict(list)
    used: set[str] = set()
    for visit in problem.frozen:
        plan = _plan_of(problem, visit)
        for rig, interval in _rig_times(visit, plan):
            rigs[rig].append(interval)
            used.add(rig)
        for person, interval in _people_times(visit, plan):
            people[person].append(interval)
    for task in problem.frozen_tasks:
        rigs[task.rig].append(task.interval)
        for person in task.staff.values():
            people[person].append(task.interval)
    return Busy(
        {rig: tuple(times) for rig, times in rigs.items()},
        {person: tuple(times) for person, times in people.items()},
        frozenset(used),
    )


def _plan_of(problem: DayProblem, placed: PlacedVisit) -> VisitPlan | None:
    asked: tuple[Visit, ...] = problem.study.asked.get(placed.participant, ())
    for visit in asked:
        if visit.file_id == placed.file_id:
            return problem.plans[visit.protocol]
    return None


def _planned(plan: VisitPlan | None, activity: Activity) -> PlannedActivity | None:
    for planned in plan.activities if plan else ():
        if (planned.step, planned.at_s, planned.manoeuvre) == (
            activity.step,
            activity.at_s,
            activity.manoeuvre,
        ):
            return planned
    return None


def _rig_times(visit: PlacedVisit, plan: VisitPlan | None) -> list[tuple[str, Interval]]:
    """Each rig with each time it is taken; a rig that is kept for a later block is taken until then."""
    times = []
    for activity in visit.activities:
        planned = _planned(plan, activity)
        for number, rig in enumerate(activity.rigs):
            end = activity.rig_free
            if planned and number < len(planned.rigs) and planned.rigs[number] in planned.keeps:
                later_starts = [
                    other.start
                    for other in visit.activities
                    if rig in other.rigs and other is not activity and other.start >= activity.end
                ]
                end = min(later_starts, default=end)
            times.append((rig, Interval(activity.start, max(end, activity.end))))
    return times


def _people_times(visit: PlacedVisit, plan: VisitPlan | None) -> list[tuple[str, Interval]]:
    times = []
    for activity in visit.activities:
        planned = _planned(plan, activity)
        clearing = planned.clear if planned else None
        cleared = later(activity.end, clearing.takes_s) if clearing else activity.rig_free
        for role, person in activity.staff.items():
            clears = clearing is not None and role in clearing.staff
            times.append((person, Interval(activity.start, cleared if clears else activity.end)))
        times += [(person, Interval(activity.end, cleared)) for person in activity.clear_staff.values()]
        if activity.watch:
            times += [
                (person, Interval(activity.end, activity.watch.end))
                for person in activity.watch.staff.values()
            ]
    return times
