"""The opening hours as a demand; whoever works from opening or to closing stays with the doors."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

from planner.clock import Interval, at_clock, clock_time, without
from planner.packing.why.case import Case
from planner.packing.why.told import MORE_MINUTES, Demand, at
from planner.study.model import Person, Rig

ALL_DAY_MIN = 24 * 60
Away = frozenset[tuple[str, date]]  # who is absent for a whole shift


def opening(case: Case) -> Iterator[Demand]:
    """The opening hours; smaller: to close a little later, or to open a little earlier."""
    spans = sorted({f"{i.start:%H:%M}-{i.end:%H:%M}" for own in case.study.open.values() for i in own})
    away = Away(
        (one.id, on) for one in case.study.people for on in one.shifts if one.absent and not one.works.get(on)
    )
    yield Demand(
        f"the laboratory is open {', '.join(spans[:3])}{', …' if len(spans) > 3 else ''}",
        at(case, "days", "open"),
        partial(_wider, away, ALL_DAY_MIN, ALL_DAY_MIN),
        f"if the laboratory were open all day{_and(_who(case, ALL_DAY_MIN, ALL_DAY_MIN), 'worked all day')}",
        tuple(
            (
                f"if the laboratory closed {more} min later{_and(_who(case, 0, more), 'stayed as long')}",
                partial(_wider, away, 0, more),
            )
            for more in MORE_MINUTES
        ),
        tuple(
            (
                f"if the laboratory opened {more} min earlier{_and(_who(case, more, 0), 'came as early')}",
                partial(_wider, away, more, 0),
            )
            for more in MORE_MINUTES
        ),
    )


def _and(names: Sequence[str], what: str) -> str:
    """Who has to do the same, in words."""
    return f", and {', '.join(names)} {what}" if names else ""


def _who(case: Case, earlier: int, later: int) -> list[str]:
    """Those who would have to work longer on some day."""
    before = {person.id: person.shifts for person in case.study.people}
    away = Away()
    after = (_there_as_long(person, case, away, earlier, later) for person in case.study.people)
    return [person.id for person in after if person.shifts != before[person.id]]


def _wider(away: Away, earlier: int, later: int, case: Case) -> Case:
    """Open so many minutes earlier and later; what is away for all of a day stays away."""
    hours = case.study.open
    wide = {on: _stretched(on, spans, spans, earlier, later) for on, spans in hours.items()}
    return case.with_(
        open=wide,
        rigs=tuple(_out_as_long(rig, case, wide) for rig in case.study.rigs),
        people=tuple(_there_as_long(person, case, away, earlier, later) for person in case.study.people),
    )


def _stretched(
    on: date, spans: Sequence[Interval], hours: Sequence[Interval], earlier: int, later: int
) -> tuple[Interval, ...]:
    """The spans of a day, those that reach to opening or closing longer by so much, within the day."""
    tz = hours[0].start.tzinfo
    assert tz is not None
    first, last = at_clock(on, clock_time("00:00"), tz), at_clock(on, clock_time("23:59"), tz)
    opens, closes = hours[0].start, hours[-1].end
    return tuple(
        Interval(
            min(i.start, max(first, opens - timedelta(minutes=earlier))) if i.start <= opens else i.start,
            max(i.end, min(last, closes + timedelta(minutes=later))) if i.end >= closes else i.end,
        )
        for i in spans
    )


def _there_as_long(person: Person, case: Case, away: Away, earlier: int, later: int) -> Person:
    hours = case.study.open
    shifts = {
        on: _stretched(on, spans, hours[on], earlier, later) if on in hours else spans
        for on, spans in person.shifts.items()
    }
    works = {
        on: without(spans, (*person.breaks.get(on, ()), *person.absent))
        if person.works.get(on) and not _is_away(person, on, away)
        else ()
        for on, spans in shifts.items()
    }
    return replace(person, shifts=shifts, works=works)


def _is_away(person: Person, on: date, away: Away) -> bool:
    """Whether an absence that is still there took all of the shift as it is written."""
    return (person.id, on) in away and any(i.start.date() <= on <= i.end.date() for i in person.absent)


def _out_as_long(rig: Rig, case: Case, wide: dict[date, tuple[Interval, ...]]) -> Rig:
    """The rig out for all of the wider hours of a day where it is out for all that it is open."""
    whole = [on for on, hours in case.study.open.items() if rig.out and not without(hours, rig.out)]
    return replace(rig, out=(*rig.out, *(Interval(wide[on][0].start, wide[on][-1].end) for on in whole)))
