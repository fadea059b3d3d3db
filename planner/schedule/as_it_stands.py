"""Whether a plan is one of the study as its files stand now: asked before it is mended, printed or played."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime

from planner.schedule.beside_asked import asked_visit
from planner.schedule.model import Broken, NotPlaced, PlacedVisit, Schedule
from planner.schedule.verify import verify
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

ABOUT_NEWCOMERS = ("all-asked", "asked")
CLAIMS = (  # what a plan says of itself, and says anew when it is packed anew
    *("asked", "placed", "visit-times", "time-zone", "version"),
    *("stage-value", "bound", "false-optimal", "false-impossible"),
)
OF_FILES = (  # what a line that was written since may break in a plan that kept all rules
    *("availability", "opening-hours", "open-day", "start", "shift", "break", "absence", "outage"),
    *("first-use", "counting", "days-between", "same-time-of-day", "visits-a-day"),
    *("known", "asked", "placed", "staff", "rig-class"),
    *("fixed-date", "fixed-start", "fixed-rig", "fixed-person"),
)
STRANGE = ("known", "once", "activities", "order")  # another visit than the one that the study asks for


def newcomers(schedule: Schedule, study: Study) -> Iterator[Visit]:
    """Visits asked for of which the plan says nothing, as of somebody who replaces another."""
    told = {(visit.participant, visit.file_id) for visit in schedule.visits}
    told |= {(left.participant, left.visit) for left in schedule.not_placed}
    every = (visit for visits in study.asked.values() for visit in visits)
    yield from (visit for visit in every if (visit.participant, visit.file_id) not in told)


def still_asked(named: Iterable[NotPlaced], study: Study) -> tuple[NotPlaced, ...]:
    """Of visits named as not placed those that the study asks for as its files stand now."""
    asked = {(visit.participant, visit.file_id) for visits in study.asked.values() for visit in visits}
    return tuple(one for one in named if (one.participant, one.visit) in asked)


def number_asked(schedule: Schedule, study: Study) -> int:
    """How many visits are asked for: those of the study's files, and what stands in the plan beyond them."""
    beyond = sum(1 for visit in schedule.visits if asked_visit(visit, study) is None)
    return sum(map(len, study.asked.values())) + beyond


def broken_as_it_stands(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]
) -> tuple[Broken, ...]:
    """Every rule that the plan breaks as it is given.

    What an earlier mend lists as not kept is none of them; nor are visits that the study asks for since
    the plan was made. A visit that the plan counts as asked for, and does not name, is missing.
    """
    broken = verify(schedule, study, plans).broken
    since = sum(1 for _ in newcomers(schedule, study))
    if since and schedule.asked + since == sum(map(len, study.asked.values())):
        return tuple(one for one in broken if one.rule not in ABOUT_NEWCOMERS)
    return broken


def broken_to_come(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan], now: datetime
) -> tuple[Broken, ...]:
    """What the plan breaks from `now` on; visits and checks of rigs that have begun are no matter.

    What it says of itself is a matter at all times, and all of it where the files are those that it was
    made from: then somebody has changed the plan.
    """
    broken = broken_as_it_stands(schedule, study, plans)
    if not broken or not files_changed(schedule, study):
        return broken
    begun = {(v.participant, v.file_id) for v in schedule.visits if v.start.timestamp() < now.timestamp()}
    visits = tuple(v for v in schedule.visits if (v.participant, v.file_id) not in begun)
    tasks = tuple(task for task in schedule.rig_tasks if task.start.timestamp() >= now.timestamp())
    rest = verify(replace(schedule, visits=visits, rig_tasks=tasks), study, plans).broken
    of_none = {one for one in rest if one.participant is None and one.rule not in CLAIMS}
    return tuple(
        one
        for one in broken
        if one.rule in CLAIMS
        or one in of_none
        or (one.participant is not None and (one.participant, one.visit or "") not in begun)
    )


def may_be_of_files(broken: Iterable[Broken], schedule: Schedule, study: Study) -> bool:
    """Whether all that is broken may come of lines that were written since the plan was made."""
    return files_changed(schedule, study) and all(one.rule in OF_FILES for one in broken)


def strange(broken: Iterable[Broken]) -> tuple[Broken, ...]:
    """Those that make a visit another than the study asks for: of such a one no paper can be printed."""
    return tuple(one for one in broken if one.rule in STRANGE)


def strange_visit(
    visit: PlacedVisit, schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]
) -> tuple[Broken, ...]:
    """What makes that visit of the plan another than the study asks for; nothing where it is that one."""
    alone = verify(replace(schedule, visits=(visit,), rig_tasks=()), study, plans).broken
    own = (visit.participant, visit.file_id)
    return tuple(one for one in strange(alone) if (one.participant, one.visit) == own)


def broken_beside(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan], day: date
) -> tuple[Broken, ...]:
    """What stays broken though that day is packed anew, and lies in no visit that could be left out for it.

    Visits of other days that are not the study's, or of anybody unknown; checks of other days by a person
    or of a rig that is gone.
    """
    own = {(visit.participant, visit.file_id) for visit in schedule.on(day)}
    whole = strange(verify(schedule, study, plans).broken)
    odd = [one for one in whole if one.rule == "known" or (one.participant, one.visit) not in own]
    others = tuple(visit for visit in schedule.visits if visit.date != day)
    checks = tuple(task for task in schedule.rig_tasks if task.start.date() != day)
    rest = verify(replace(schedule, visits=others, rig_tasks=checks), study, plans).broken
    return (*odd, *(one for one in rest if one.participant is None and one.rule not in CLAIMS))


def files_changed(schedule: Schedule, study: Study) -> bool:
    """Whether the study's files are known to be others than those that the plan was made from."""
    return bool(study.fingerprint) and schedule.fingerprint not in ("", study.fingerprint)
