"""Opening hours, availability, shifts, breaks, absences and outages, in seconds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from planner.clock import Interval
from planner.schedule.model import Broken
from planner.schedule.rules.busy import Busy, people_times, rig_times
from planner.schedule.rules.case import Case, Judged, clock, second
from planner.study.model import Person, Study


def opening(case: Case) -> Iterator[Broken]:
    """Each visit lies on an open day, inside its opening hours, clearing included."""
    for visit in case.visits:
        placed = visit.placed
        hours = case.study.open.get(placed.date)
        if not hours:
            yield visit.broken("open-day", f"the laboratory is not open on {placed.date}")
            continue
        start = second(placed.start)
        end = max(second(activity.rig_free) for activity in placed.activities)
        if not _holds(hours, start, end):
            free = datetime.fromtimestamp(end, tz=case.study.zone)
            span = f"from {clock(placed.start)} to {clock(free)}, clearing included,"
            words = f"{span} is not inside opening hours "
            yield visit.broken("opening-hours", words + _spans(hours))


def availability(case: Case) -> Iterator[Broken]:
    """Each visit lies inside one line of the participant's availability."""
    for visit in case.visits:
        placed = visit.placed
        written = case.study.available.get(placed.participant)
        if written is None:
            continue
        lines = [interval for interval, kind in written if kind in (None, placed.visit)]
        for_others = bool(written) and not lines
        if for_others or _holds(lines, second(placed.start), second(placed.end)):
            continue
        today = [line for line in lines if line.start.date() == placed.date]
        may = f"may come {_spans(today)}" if today else "may not come that day"
        words = f"from {clock(placed.start)} to {clock(placed.end)}, and the participant {may}"
        yield visit.broken("availability", words)


def start_range(case: Case) -> Iterator[Broken]:
    """A visit starts when such a visit may start, on the wall clock, both ends included."""
    for visit in case.visits:
        allowed = visit.asked.start if visit.asked else None
        start = visit.placed.start
        if allowed and not allowed.from_ <= start.time() <= allowed.to:
            yield visit.broken("start", f"it starts at {clock(start)}; such a visit may start from {allowed}")


def shifts(case: Case) -> Iterator[Broken]:
    """Nobody serves outside the shift, in a break, or while absent."""
    known = {person.id: person for person in case.study.people}
    for name, times in people_times(case).items():
        for busy in times:
            person = known.get(name)
            on = datetime.fromtimestamp(busy.start, tz=case.study.zone).date()
            if person and not _holds(person.works.get(on, ()), busy.start, busy.end):
                rule, words = _why_not(person, busy)
                yield from _told(busy, rule, f"{name} {words}: {busy.words} {_span_of(busy, case.study)}")


def _why_not(person: Person, busy: Busy) -> tuple[str, str]:
    """Which rule keeps the person from serving then."""
    span = range(busy.start, busy.end)
    for absent in person.absent:
        if _meets(absent, span):
            return "absence", "is absent"
    for breaks in person.breaks.values():
        for one in breaks:
            if _meets(one, span):
                return "break", f"has a break {clock(one.start)} to {clock(one.end)}"
    return "shift", "is not on shift"


def outages(case: Case) -> Iterator[Broken]:
    """No rig serves while it is out of use, clearing included."""
    known = {rig.id: rig for rig in case.study.rigs}
    for name, times in rig_times(case).items():
        for busy in times:
            for out in known[name].out if name in known else ():
                if _meets(out, range(busy.start, busy.end)):
                    until = f"out of use {out.start:%Y-%m-%d %H:%M} to {out.end:%Y-%m-%d %H:%M}"
                    words = f"{name} is {until}: {busy.words} {_span_of(busy, case.study)}"
                    yield from _told(busy, "outage", words)


def _told(busy: Busy, rule: str, words: str) -> Iterator[Broken]:
    visit: Judged | None = busy.visit
    yield visit.broken(rule, words) if visit else Broken(rule, None, None, words)


def _holds(intervals: Iterable[Interval], start: int, end: int) -> bool:
    return any(second(one.start) <= start and end <= second(one.end) for one in intervals)


def _meets(interval: Interval, span: range) -> bool:
    return second(interval.start) < span.stop and span.start < second(interval.end)


def _spans(intervals: Iterable[Interval]) -> str:
    return ", ".join(f"{clock(one.start)} to {clock(one.end)}" for one in intervals)


def _span_of(busy: Busy, study: Study) -> str:
    start, end = (datetime.fromtimestamp(moment, tz=study.zone) for moment in (busy.start, busy.end))
    return f"on {start:%Y-%m-%d}, {clock(start)} to {clock(end)}"


RULES = (opening, availability, start_range, shifts, outages)
