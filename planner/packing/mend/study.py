"""The study as it is on a running day: without what has failed and who is away."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from planner.clock import Interval, at_clock, without
from planner.packing.mend.troubles import Span, Troubles
from planner.schedule.model import RigTask
from planner.study.model import Study


def from_now(spans: Sequence[Span], name: str, now: datetime) -> list[Interval]:
    """The spans of one rig or person, cut to what lies ahead."""
    cut = [(max(start, now, key=datetime.timestamp), end) for one, start, end in spans if one == name]
    return [Interval(start, end) for start, end in cut if start.timestamp() < end.timestamp()]


def whole_day(study: Study, day: date) -> Interval:
    """That calendar day in the study's zone, be it 23 hours long or 25."""
    return Interval(*(at_clock(one, time(), study.zone) for one in (day, day + timedelta(days=1))))


def off_work(study: Study, day: date) -> Iterator[Span]:
    """When each person is not there that day by the study's files: off shift, in a break, away."""
    whole = whole_day(study, day)
    for person in study.people:
        for off in without((whole,), person.works.get(day, ())):
            yield person.id, off.start, off.end


def with_troubles(study: Study, now: datetime, troubles: Troubles) -> Study:
    """The study with rigs out of use and people absent from now on, as the troubles say."""
    rigs = tuple(
        replace(rig, out=(*rig.out, *from_now(troubles.out_of_use, rig.id, now))) for rig in study.rigs
    )
    people = []
    for person in study.people:
        away = from_now(troubles.absent, person.id, now)
        works = {on: without(hours, away) for on, hours in person.works.items()} if away else person.works
        people.append(replace(person, works=works, absent=(*person.absent, *away)))
    return replace(study, rigs=rigs, people=tuple(people))


def closed_before_checks(study: Study, tasks: Sequence[RigTask]) -> Study:
    """The study with each of these rigs out of use from opening to its check."""
    closed: dict[str, list[Interval]] = {task.rig: [] for task in tasks}
    for task in tasks:
        hours = study.open.get(task.start.date(), ())
        if hours and hours[0].start.timestamp() < task.start.timestamp():
            closed[task.rig].append(Interval(hours[0].start, task.start))
    rigs = tuple(replace(rig, out=(*rig.out, *closed.get(rig.id, ()))) for rig in study.rigs)
    return replace(study, rigs=rigs)
