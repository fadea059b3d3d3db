"""The demands on time: roles, shifts, breaks, absences, opening hours, when participants can come."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

from planner.clock import Interval
from planner.packing.why.case import (
    Case,
    with_one_more_person,
    with_person,
    without_availability,
)
from planner.packing.why.told import MORE_MINUTES, Demand, at, span_words
from planner.study.model import Person


def people(case: Case) -> Iterator[Demand]:
    """Who can have which role."""
    for role in sorted({r for person in case.study.people for r in person.roles}):
        ids = [person.id for person in case.study.people if role in person.roles]
        words = f"only {', '.join(ids)} can be {role}"
        yield Demand(words, at(case, "staff", ids[0]), with_one_more_person(role), f"with one more {role}")


def breaks(case: Case) -> Iterator[Demand]:
    """Each person's breaks."""
    for person in case.study.people:
        if any(person.breaks.values()):
            drop = with_person(person.id, lambda p: replace(p, breaks={}))
            yield Demand(
                f"the breaks of {person.id}", at(case, "shifts", person.id), drop,
                f"if {person.id} had no break at that time",
            )  # fmt: skip


def absences(case: Case) -> Iterator[Demand]:
    """Each person's absences."""
    for person in case.study.people:
        if person.absent:
            spans = "; ".join(span_words(span) for span in person.absent)
            drop = with_person(person.id, lambda p: replace(p, absent=()))
            yield Demand(
                f"{person.id} is absent {spans}", at(case, "absences", person.id), drop,
                f"if {person.id} were there",
            )  # fmt: skip


def shifts(case: Case) -> Iterator[Demand]:
    """Each person's shifts; smaller: to stay longer."""
    for person in case.study.people:
        hours = dict(case.study.open)
        drop = with_person(person.id, partial(_at_work, hours))
        easier = tuple(
            (f"if {person.id} stayed {minutes} min longer", with_person(person.id, partial(_longer, minutes)))
            for minutes in MORE_MINUTES
        )
        yield Demand(
            f"the shifts of {person.id}{_usual(person)}", at(case, "shifts", person.id), drop,
            f"if {person.id} worked all opening hours", easier,
        )  # fmt: skip


def _at_work(hours: Mapping[date, tuple[Interval, ...]], person: Person) -> Person:
    return replace(person, shifts={**person.shifts, **hours})


def _longer(minutes: int, person: Person) -> Person:
    shifts = {
        on: tuple(Interval(i.start, i.end + timedelta(minutes=minutes)) for i in spans)
        for on, spans in person.shifts.items()
    }
    return replace(person, shifts=shifts)


def _usual(person: Person) -> str:
    spans = sorted({f"{i.start:%H:%M}-{i.end:%H:%M}" for own in person.shifts.values() for i in own})
    return f" ({', '.join(spans[:3])}{', …' if len(spans) > 3 else ''})" if spans else ""


def availability(case: Case) -> Iterator[Demand]:
    """When each participant can come; smaller: a little earlier and longer."""
    for participant, lines in case.study.available.items():
        spans = sorted({f"{i.start:%a %H:%M}-{i.end:%H:%M}" for i, _ in lines})
        some = f"{', '.join(spans[:4])}{', …' if len(spans) > 4 else ''}" if spans else "on no open day"
        words = f"{participant} can come {some}"
        easier = tuple(
            (
                f"if {participant} could come {minutes} min earlier and stay {minutes} min longer",
                partial(_wider, participant, minutes),
            )
            for minutes in MORE_MINUTES
        )
        yield Demand(
            words,
            at(case, "availability", participant),
            without_availability(participant),
            f"if {participant} could come at any time",
            easier,
        )


def _wider(participant: str, minutes: int, case: Case) -> Case:
    more = timedelta(minutes=minutes)
    lines = tuple((Interval(i.start - more, i.end + more), k) for i, k in case.study.available[participant])
    return case.with_(available={**case.study.available, participant: lines})
