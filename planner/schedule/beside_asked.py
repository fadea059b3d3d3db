"""A placed visit beside what is asked for: its activities by the planned ones, how far time points lie."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from planner.clock import seconds_between
from planner.schedule.model import Activity, PlacedVisit
from planner.study.model import Study, Visit
from planner.timing.plan import Link, Moment, Point, VisitPlan


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
