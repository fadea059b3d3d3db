"""What lies outside opening hours, availability or shifts, or in a break, an absence or an outage."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from planner.clock import Interval
from planner.schedule.model import Activity, Broken
from planner.schedule.rules.busy import Busy, people_times, rig_times
from planner.schedule.rules.case import Case, Judged, clock, second
from planner.study.model import Person, Study


@dataclass(frozen=True)
class Outside:
    """Activities that lie outside hours, and the rule that this breaks; `of_break_s` are seconds of a break.

    `why` says which hours those are, and `what` lasts `until` when, in words. A mended plan may name them as
    what has begun and can no longer end sooner.
    """

    broken: Broken
    why: str
    what: str
    until: int
    visit: Judged | None = None
    activities: tuple[Activity, ...] = ()
    of_break_s: int = 0


def outside_opening(case: Case) -> Iterator[Outside]:
    for visit in case.visits:
        placed = visit.placed
        hours = case.study.open.get(placed.date)
        if not hours:
            broken = visit.broken("open-day", f"the laboratory is not open on {placed.date}")
            yield Outside(broken, "", visit.name, second(placed.end))
            continue
        start = second(placed.start)
        end = max(second(activity.rig_free) for activity in placed.activities)
        if not _holds(hours, start, end):
            free = datetime.fromtimestamp(end, tz=case.study.zone)
            span = f"from {clock(placed.start)} to {clock(free)}, clearing included,"
            words = f"{span} is not inside opening hours "
            broken = visit.broken("opening-hours", words + _spans(hours))
            why = f"the laboratory is open {_spans(hours)}"
            beyond = _beyond(hours, start, [(one, second(one.rig_free)) for one in placed.activities])
            yield Outside(broken, why, f"{visit.name}, clearing included,", end, visit, beyond)


def outside_availability(case: Case) -> Iterator[Outside]:
    for visit in case.visits:
        placed = visit.placed
        written = case.study.available.get(placed.participant)
        if written is None:
            continue
        lines = [interval for interval, kind in written if kind in (None, placed.visit)]
        for_others = bool(written) and not lines
        start, end = second(placed.start), second(placed.end)
        if for_others or _holds(lines, start, end):
            continue
        today = [line for line in lines if line.start.date() == placed.date]
        may = f"may come {_spans(today)}" if today else "may not come that day"
        words = f"from {clock(placed.start)} to {clock(placed.end)}, and the participant {may}"
        beyond = _beyond(lines, start, [(one, second(one.end)) for one in placed.activities])
        broken = visit.broken("availability", words)
        yield Outside(broken, f"the participant {may}", visit.name, end, visit, beyond)


def _beyond(
    hours: Iterable[Interval], start: int, ends: Iterable[tuple[Activity, int]]
) -> tuple[Activity, ...]:
    """What ends after the hours in which the visit starts; all of it where it starts in none."""
    held = [second(one.end) for one in hours if second(one.start) <= start < second(one.end)]
    return tuple(one for one, end in ends if end > max(held, default=0))


def outside_shifts(case: Case) -> Iterator[Outside]:
    known = {person.id: person for person in case.study.people}
    for name, times in people_times(case).items():
        for busy in times:
            person = known.get(name)
            on = datetime.fromtimestamp(busy.start, tz=case.study.zone).date()
            if person and not _holds(person.works.get(on, ()), busy.start, busy.end):
                rule, words, of_break_s = _why_not(person, busy)
                yield _of(busy, rule, f"{name} {words}", case.study, of_break_s)


def _why_not(person: Person, busy: Busy) -> tuple[str, str, int]:
    """Which rule keeps the person from serving then, and for how many seconds it is a break."""
    span = range(busy.start, busy.end)
    for absent in person.absent:
        if _meets(absent, span):
            return "absence", "is absent", 0
    for breaks in person.breaks.values():
        for one in breaks:
            if _meets(one, span):
                of_break_s = min(busy.end, second(one.end)) - max(busy.start, second(one.start))
                return "break", f"has a break {clock(one.start)} to {clock(one.end)}", of_break_s
    return "shift", "is not on shift", 0


def outside_outages(case: Case) -> Iterator[Outside]:
    known = {rig.id: rig for rig in case.study.rigs}
    for name, times in rig_times(case).items():
        for busy in times:
            for out in known[name].out if name in known else ():
                if _meets(out, range(busy.start, busy.end)):
                    until = f"out of use {out.start:%Y-%m-%d %H:%M} to {out.end:%Y-%m-%d %H:%M}"
                    yield _of(busy, "outage", f"{name} is {until}", case.study)


def _of(busy: Busy, rule: str, why: str, study: Study, of_break_s: int = 0) -> Outside:
    """What a rig or person serves and may not."""
    words = f"{why}: {busy.words} {_span_of(busy, study)}"
    visit: Judged | None = busy.visit
    broken = visit.broken(rule, words) if visit else Broken(rule, None, None, words)
    its = (busy.activity,) if busy.activity else ()
    return Outside(broken, why, busy.words, busy.end, visit, its, of_break_s)


def _holds(intervals: Iterable[Interval], start: int, end: int) -> bool:
    return any(second(one.start) <= start and end <= second(one.end) for one in intervals)


def _meets(interval: Interval, span: range) -> bool:
    return second(interval.start) < span.stop and span.start < second(interval.end)


def _spans(intervals: Iterable[Interval]) -> str:
    return ", ".join(f"{clock(one.start)} to {clock(one.end)}" for one in intervals)


def _span_of(busy: Busy, study: Study) -> str:
    start, end = (datetime.fromtimestamp(moment, tz=study.zone) for moment in (busy.start, busy.end))
    return f"on {start:%Y-%m-%d}, {clock(start)} to {clock(end)}"


def outside(case: Case) -> Iterator[Outside]:
    """Whatever lies outside opening hours, availability, shifts, or in a break, an absence or an outage."""
    for part in (outside_opening, outside_availability, outside_shifts, outside_outages):
        yield from part(case)
