"""What is left out of a mended plan, each with the trouble that it comes from."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from planner.clock import Interval
from planner.packing.mend.study import from_now
from planner.packing.mend.troubles import Span, Troubles
from planner.packing.problem import VisitKey, key
from planner.schedule.changes import key_of
from planner.schedule.model import Activity, Change, PlacedVisit, RigTask, Schedule
from planner.schedule.rules.case import clock


@dataclass(frozen=True)
class Told:
    """The plan before, what went otherwise, and why visits lost their place, each in a few words."""

    before: Schedule
    troubles: Troubles
    now: datetime
    lost: Mapping[VisitKey, str]


def with_reasons(found: Iterable[Change], told: Told) -> tuple[Change, ...]:
    """The changes; what is left out says in its words which trouble it comes from."""
    found = tuple(found)
    visits = {key(visit): visit for visit in told.before.visits}
    return tuple(_said(one, visits, found, told) if one.kind == "dropped" else one for one in found)


def _said(
    change: Change, visits: Mapping[VisitKey, PlacedVisit], found: tuple[Change, ...], told: Told
) -> Change:
    visit = visits.get((change.participant or "", change.visit or ""))
    if visit is None:
        why = _of_check(change, told)
    elif change.step is None:
        why = _of_visit(visit, told)
    else:
        why = _of_step(change, visit, found, told)
    return replace(change, message=f"{change.message}: {why}") if why else change


def _of_visit(visit: PlacedVisit, told: Told) -> str:
    """Why it lost its place; of a day that has none left, what made it so."""
    why = told.lost.get(key(visit), "")
    if visit.participant in told.troubles.cancelled:
        return why
    causes = _joined(_of_activities(visit, visit.activities, told)) or _joined(_every(told, visit))
    return "; ".join(filter(None, (why, causes)))


def _of_step(change: Change, visit: PlacedVisit, found: tuple[Change, ...], told: Told) -> str:
    """Its own rig or people; else what hits what it goes with in this visit; else all that was told."""
    own = [one for one in visit.activities if key_of(one) == (change.step, change.at_s, change.manoeuvre)]
    gone = {(c.step, c.at_s, c.manoeuvre) for c in found if (c.kind, c.visit) == ("dropped", change.visit)}
    others = [one for one in visit.activities if key_of(one) in gone]
    for activities in (own, others, visit.activities):
        if causes := _joined(_of_activities(visit, activities, told)):
            return causes
    return _joined(_every(told, visit))


def _of_check(change: Change, told: Told) -> str:
    """The rig or person that fails a check; else that nobody needs it any more."""
    for task in told.before.rig_tasks:
        if (change.before or "").startswith(f"check of {task.rig} {task.start:%Y-%m-%d %H:%M} "):
            return _joined(_of_task(task, told)) or f"nobody uses {task.rig} any more that day"
    return ""


def _of_task(task: RigTask, told: Told) -> Iterator[str]:
    yield from _spans(told.troubles.out_of_use, (task.rig,), task.interval, told, "is out of use")
    people = tuple(task.staff.values())
    yield from _spans(told.troubles.absent, people, task.interval, told, "is not there")


def _of_activities(visit: PlacedVisit, activities: Iterable[Activity], told: Told) -> Iterator[str]:
    """The troubles that hit these activities as they were planned."""
    for one in activities:
        when = Interval(one.start, one.rig_free)
        yield from _spans(told.troubles.out_of_use, one.rigs, when, told, "is out of use")
        people = (*one.staff.values(), *one.clear_staff.values())
        yield from _spans(told.troubles.absent, people, when, told, "is not there")
    yield from _of_participant(visit, told)


def _of_participant(visit: PlacedVisit, told: Told) -> Iterator[str]:
    """What was told of the participant on this day; who is late or later elsewhere is so at once."""
    minutes = told.troubles.late.get(visit.participant)
    if minutes is not None and visit.date == told.now.date():
        yield f"{visit.participant} is {minutes} min late"
    for (who, step), end in told.troubles.ended.items():
        if who == visit.participant and visit.date == end.date():
            yield f"{step} of {who} ends at {clock(end)}"


def _every(told: Told, visit: PlacedVisit) -> Iterator[str]:
    """All that was told of that day: where nothing hits the visit itself, others are in its place."""
    names = [name for name, _, _ in (*told.troubles.out_of_use, *told.troubles.absent)]
    day = Interval(visit.start.replace(hour=0, minute=0), visit.start.replace(hour=23, minute=59))
    yield from _spans(told.troubles.out_of_use, names, day, told, "is out of use")
    yield from _spans(told.troubles.absent, names, day, told, "is not there")
    for other in told.before.on(visit.date):
        yield from _of_participant(other, told)


def _spans(
    spans: Iterable[Span], names: Iterable[str], when: Interval, told: Told, words: str
) -> Iterator[str]:
    """Each of these spans that meets that time from now on, in words."""
    names = set(names)
    for name, start, end in spans:
        if name in names and any(one.meets(when) for one in from_now(((name, start, end),), name, told.now)):
            days = "" if start.date() == end.date() else f"{end:%Y-%m-%d} "
            yield f"{name} {words} from {clock(start)} to {days}{clock(end)}"


def _joined(causes: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(causes))
