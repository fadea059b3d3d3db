"""The demands on days: the study's first and last, its closed days, the weekdays on which it is open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

from planner.clock import Interval, at_clock, days
from planner.packing.why.case import Case, with_more_days
from planner.packing.why.longer import longer_steps
from planner.packing.why.told import Demand, at
from planner.study.model import Person

Hours = Mapping[date, tuple[Interval, ...]]
MOST_SHOWN = 4
SATURDAY = 5  # as `date.weekday` counts; nobody is asked to open at the weekend


def study_days(case: Case) -> Iterator[Demand]:
    """Easier is a later last day, by the weekdays that are written; other days would need more lines."""
    study, steps = case.study, longer_steps(case)
    yield Demand(
        f"the study's open days ({len(study.open)}), {study.first_day} to {study.last_day}",
        at(case, "days"),
        steps[-1][1] if steps else with_more_days,
        "",
        steps,
        only_tried=True,
    )


def closed_days(case: Case) -> Iterator[Demand]:
    """The days that are closed though their weekday is open otherwise; shifts and lines name that weekday."""
    usual = _usual_hours(case)
    closed = [on for on in _not_open(case) if on.weekday() in usual]
    lines = tuple(_closed(case, {on: _moved(usual[on.weekday()], on, case)}) for on in closed)
    if len(lines) < 2:
        yield from lines
    else:
        hours = {on: _moved(usual[on.weekday()], on, case) for on in closed}
        yield replace(_closed(case, hours), lines=lines)


def _closed(case: Case, hours: Hours) -> Demand:
    some = [f"{on:%a} {on}" for on in hours]
    words = ", ".join(some[:MOST_SHOWN]) + (", …" if len(some) > MOST_SHOWN else "")
    return Demand(
        f"the laboratory is closed on {words}",
        at(case, "days", "closed"),
        partial(_open_too, hours),
        f"if the laboratory were open on {words} too",
    )


def _open_too(hours: Hours, case: Case) -> Case:
    return case.with_(open=dict(sorted({**case.study.open, **hours}.items())))


def open_weekdays(case: Case) -> Iterator[Demand]:
    """The weekdays that are open; on others staff would have to work, and some participants cannot come."""
    usual = _usual_hours(case)
    closed = [on for on in _not_open(case) if on.weekday() not in usual and on.weekday() < SATURDAY]
    if not closed or not usual:
        return
    first = min(usual)
    hours = {on: _moved(usual[first], on, case) for on in closed}
    names = ", ".join(f"{case.study.first_day + timedelta(days=n):%a}" for n in _by_weekday(case, usual))
    yield Demand(
        f"the laboratory is open only on {names}",
        at(case, "days", "open"),
        partial(_open_with_staff, hours),
        "if the laboratory were open from Monday to Friday, and all staff worked in those hours",
        only_tried=True,
    )


def _open_with_staff(hours: Hours, case: Case) -> Case:
    opened = _open_too(hours, case)
    return opened.with_(people=tuple(_working(person, hours) for person in opened.study.people))


def _working(person: Person, hours: Hours) -> Person:
    return replace(person, works={**person.works, **hours}, shifts={**person.shifts, **hours})


def _by_weekday(case: Case, usual: Mapping[int, tuple[Interval, ...]]) -> list[int]:
    """The open weekdays from Monday on, as days after the study's first."""
    first = case.study.first_day.weekday()
    return [(weekday - first) % 7 for weekday in sorted(usual)]


def _usual_hours(case: Case) -> dict[int, tuple[Interval, ...]]:
    """The opening hours of each weekday: of its first open day, else of one written with it as `mon-fri`."""
    found: dict[int, tuple[Interval, ...]] = {}
    for on, hours in sorted(case.study.open.items()):
        found.setdefault(on.weekday(), hours)
    for together in _written_together(case):
        like = [weekday for weekday in sorted(together) if weekday in found]
        found |= {weekday: found[like[0]] for weekday in together if like and weekday not in found}
    return found


def _written_together(case: Case) -> Iterator[list[int]]:
    for path in case.study.places:
        if path[:2] == ("days", "open") and len(path) == 3:
            yield [on for on in days(str(path[2])) if isinstance(on, int)]


def _not_open(case: Case) -> list[date]:
    study = case.study
    count = (study.last_day - study.first_day).days + 1
    every = (study.first_day + timedelta(days=number) for number in range(count))
    return [on for on in every if on not in study.open]


def _moved(hours: tuple[Interval, ...], on: date, case: Case) -> tuple[Interval, ...]:
    tz = case.study.zone
    return tuple(Interval(at_clock(on, i.start.time(), tz), at_clock(on, i.end.time(), tz)) for i in hours)
