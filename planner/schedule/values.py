"""What the stages of a plan are worth, recomputed from the plan: the same for packing and for the judge."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import date, datetime

from planner.clock import seconds_between
from planner.schedule.change_values import CHANGE_STAGES, change_values
from planner.schedule.model import Activity, PlacedVisit, Schedule
from planner.study.model import Study, Visit
from planner.timing.plan import Link, Moment, Point, VisitPlan

MOST_SPARE_S = 900  # more than a quarter of an hour before a window is worth nothing more
STAGES = ("placed", "last_day", "waiting_s", "last_end_s", "spare_s")
KNOWN = (*STAGES, *CHANGE_STAGES)
BEST_IS_MOST = frozenset({"placed", "spare_s"})  # of these stages more is better, of all others less


def stage_values(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan], names: Collection[str] = STAGES
) -> dict[str, int]:
    """The values of these stages, by name; `last_day` only where the study has several open days.

    `placed`: visits. `last_day`: days from the study's first day to the last visit. `waiting_s`: how
    much longer the visits take than alone, and twice the distance of each time point from its `at`.
    `last_end_s`: summed over the days, from opening to the last end of a visit. `spare_s`: see there.
    Those of a mended plan are in `change_values`.
    """
    makers: dict[str, Callable[[], int]] = {
        "placed": lambda: schedule.placed,
        "last_day": lambda: last_day(schedule, study),
        "waiting_s": lambda: waiting_s(schedule, study, plans),
        "last_end_s": lambda: last_end_s(schedule, study),
        "spare_s": lambda: spare_s(schedule, study, plans),
    }
    if not set(CHANGE_STAGES).isdisjoint(names):
        made = change_values(schedule, study)
        return {name: makers[name]() if name in makers else made[name] for name in names if name in KNOWN}
    if len(study.open) < 2:
        del makers["last_day"]
    return {name: make() for name, make in makers.items() if name in names}


def last_day(schedule: Schedule, study: Study) -> int:
    """Days from the study's first day to that of the last visit; 0 where nothing is placed."""
    return max(((visit.date - study.first_day).days for visit in schedule.visits), default=0)


def waiting_s(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> int:
    """Seconds over all placed visits; see `visit_waiting_s`. Visits that are not asked for count nothing."""
    total = 0
    for placed in schedule.visits:
        if (asked := asked_visit(placed, study)) and asked.protocol in plans:
            total += visit_waiting_s(placed, plans[asked.protocol])
    return total


def visit_waiting_s(placed: PlacedVisit, plan: VisitPlan) -> int:
    """Its length less that alone, plus twice the distance of each of its time points from `at`."""
    length = seconds_between(placed.start, placed.end)
    return length - plan.alone_s + 2 * sum(distances_s(placed, plan))


def distances_s(placed: PlacedVisit, plan: VisitPlan) -> Iterator[int]:
    """How far each time point lies from its `at`, in seconds; those without their activities are left out."""
    by_index = matched(placed, plan)
    for window in plan.windows:
        seconds = link_s(window, by_index)
        if seconds is not None and window.target_s is not None:
            yield abs(seconds - window.target_s)


def link_s(link: Link, by_index: Mapping[int, Activity]) -> int | None:
    """Seconds from the earlier to the later point of a link, None where one has no activity."""
    earlier, later = _moment(link.earlier, by_index), _moment(link.later, by_index)
    return None if earlier is None or later is None else seconds_between(earlier, later)


def _moment(point: Point, by_index: Mapping[int, Activity]) -> datetime | None:
    activity = by_index.get(point.activity)
    if activity is None:
        return None
    if point.moment is Moment.END:
        return activity.end
    return activity.first_effort or activity.start if point.moment is Moment.FIRST_EFFORT else activity.start


def matched(placed: PlacedVisit, plan: VisitPlan) -> dict[int, Activity]:
    """The placed activities by the index of the planned ones."""
    by_key = {(one.step, one.at_s, one.manoeuvre): one for one in placed.activities}
    keys = ((planned.index, (planned.step, planned.at_s, planned.manoeuvre)) for planned in plan.activities)
    return {index: by_key[key] for index, key in keys if key in by_key}


def asked_visit(placed: PlacedVisit, study: Study) -> Visit | None:
    """The visit that is asked for and that this one places."""
    for visit in study.asked.get(placed.participant, ()):
        if visit.kind == placed.visit and visit.number == placed.number:
            return visit
    return None


def last_end_s(schedule: Schedule, study: Study) -> int:
    """Seconds from opening to the last end of a visit, summed over the days with visits."""
    ends: dict[date, PlacedVisit] = {}
    for visit in schedule.visits:
        if visit.date not in ends or visit.end.timestamp() > ends[visit.date].end.timestamp():
            ends[visit.date] = visit
    return sum(
        seconds_between(study.open[visit.date][0].start, visit.end)
        for visit in ends.values()
        if visit.date in study.open
    )


def spare_s(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> int:
    """The least time for which rigs and people of a block with a window were free of others before it.

    Counted from the end of what a rig or person did for another participant (clearing and staying
    included) or as a check; at most MOST_SPARE_S, which also stands where nothing came before.
    """
    from planner.schedule.rules.case import case_of
    from planner.schedule.spare import spares

    return min((MOST_SPARE_S, *spares(case_of(schedule, study, plans))))
