"""The demands on time: roles, shifts, breaks, absences, opening hours, when participants can come."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial, reduce

from planner.clock import Interval
from planner.faults import Place
from planner.packing.why.case import (
    Case,
    Drop,
    with_one_more_person,
    with_person,
)
from planner.packing.why.told import MORE_MINUTES, Demand, at, of_lines, of_spans, shortened
from planner.study.hours import joined
from planner.study.model import Person


def people(case: Case) -> Iterator[Demand]:
    """Who can have which role."""
    for role in sorted({r for person in case.study.people for r in person.roles}):
        ids = [person.id for person in case.study.people if role in person.roles]
        words = f"only {', '.join(ids)} can be {role}"
        yield Demand(words, at(case, "staff", ids[0]), with_one_more_person(role), f"with one more {role}")


def breaks(case: Case) -> Iterator[Demand]:
    """Each person's breaks, by the line that they stand in."""
    for person in case.study.people:
        whose = f"the breaks of {person.id}"
        without = f"if {person.id} had no break at that time"
        lines = [
            Demand(f"{whose}{when}", place, _shifts_changed(person, days, _no_break), f"{without}{when}")
            for place, days, when in _by_line(case, person, person.breaks)
        ]
        drop = with_person(person.id, lambda p: replace(p, breaks={}))
        yield from of_lines(lines, whose, drop, without)


def _no_break(person: Person, on: date) -> Person:
    return replace(person, breaks={**person.breaks, on: ()})


def absences(case: Case) -> Iterator[Demand]:
    """Each person's absences, line by line."""
    for person in case.study.people:
        words, without = f"{person.id} is absent", f"if {person.id} were there"
        path = ("absences", person.id)
        yield from of_spans(case, path, person.absent, words, without, partial(_there_in, person.id))


def _there_in(name: str, spans: Sequence[Interval]) -> Drop:
    return with_person(
        name, lambda one: replace(one, absent=tuple(away for away in one.absent if away not in spans))
    )


def shifts(case: Case) -> Iterator[Demand]:
    """Each person's shifts, by their lines; smaller: to stay longer, or to come earlier."""
    yield from _without_shifts(case)
    for person in (one for one in case.study.people if one.shifts):
        lines = [_shift(case, person, *line) for line in _by_line(case, person, person.shifts)]
        days = [on for on in case.study.open if on not in person.shifts]
        if len(lines) == 1 and not days:
            yield from lines
        else:
            yield replace(_shift(case, person, at(case, "shifts", person.id)), lines=tuple(lines))


def _without_shifts(case: Case) -> Iterator[Demand]:
    """All who have no shift at all, as one: to give one of them a shift mends little."""
    ids = [person.id for person in case.study.people if not person.shifts]
    if not ids:
        return
    drops = [
        _shifts_changed(person, list(case.study.open), partial(_at_work, case.study.open))
        for person in case.study.people
        if person.id in ids
    ]
    names = ", ".join(ids)
    yield Demand(
        f"{names} {'has' if len(ids) == 1 else 'have'} no shift on any day of the study",
        at(case, "shifts"),
        lambda changed: reduce(lambda before, drop: drop(before), drops, changed),
        f"if {names} worked all opening hours",
    )


def _shift(
    case: Case, person: Person, place: Place, days: Sequence[date] | None = None, when: str = ""
) -> Demand:
    """The shifts of the person on these days, or all of them, and on every open day that has none."""
    chosen = list(dict.fromkeys([*person.shifts, *case.study.open])) if days is None else days
    hours, who = case.study.open, person.id
    longer, sooner = (
        tuple(
            (words.format(who, minutes, when), _shifts_changed(person, chosen, partial(change, minutes)))
            for minutes in MORE_MINUTES
        )
        for words, change in (
            ("if {} stayed {} min longer{}", _longer),
            ("if {} came {} min earlier{}", _sooner),
        )
    )
    return Demand(
        f"the shifts of {who}{when}{_usual(person, chosen)}",
        place,
        _shifts_changed(person, chosen, partial(_at_work, hours)),
        f"if {who} worked all opening hours{when}",
        longer,
        sooner,
    )


def _by_line(
    case: Case, person: Person, spans: Mapping[date, Sequence[Interval]]
) -> Iterator[tuple[Place, list[date], str]]:
    """The open days with any of these spans by their line of the table, in words where there are more."""
    found: dict[Place, list[date]] = {}
    for on in sorted(spans):
        if on in case.study.open and spans[on]:
            found.setdefault(at(case, "shifts", person.id, on.isoformat()), []).append(on)
    for place, days in found.items():
        yield place, days, f" on {_day_words(days)}" if len(found) > 1 else ""


def _day_words(days: Sequence[date]) -> str:
    """The date of a single day, else the weekdays."""
    if len(days) == 1:
        return f"{days[0]:%a %d %b}"
    weekdays = sorted({(on.weekday(), f"{on:%a}") for on in days})
    return ", ".join(name for _, name in weekdays)


def _shifts_changed(person: Person, days: Sequence[date], change: Callable[[Person, date], Person]) -> Drop:
    """The person changed on each of these days."""
    return with_person(person.id, lambda one: reduce(change, days, one))


def _at_work(hours: Mapping[date, tuple[Interval, ...]], person: Person, on: date) -> Person:
    return replace(person, shifts={**person.shifts, on: hours.get(on, person.shifts.get(on, ()))})


def _longer(minutes: int, person: Person, on: date) -> Person:
    spans = person.shifts.get(on, ())
    return _with_shifts(person, on, [Interval(i.start, i.end + timedelta(minutes=minutes)) for i in spans])


def _sooner(minutes: int, person: Person, on: date) -> Person:
    spans = person.shifts.get(on, ())
    return _with_shifts(person, on, [Interval(i.start - timedelta(minutes=minutes), i.end) for i in spans])


def _with_shifts(person: Person, on: date, spans: Sequence[Interval]) -> Person:
    return replace(person, shifts={**person.shifts, on: joined(spans)})


def _usual(person: Person, days: Sequence[date]) -> str:
    spans = sorted({f"{i.start:%H:%M}-{i.end:%H:%M}" for on in days for i in person.shifts.get(on, ())})
    return f" ({shortened(spans)})" if spans else ""
