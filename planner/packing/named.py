"""Every demand that a person wrote down, named in words with its place, and the case without it.

Demands come in groups (all breaks, all shifts), so that a search for the culprit first asks for a
whole group and only then for its members. `easier` are smaller relaxations, the smallest first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import partial

from planner.clock import DaySpan, Interval, duration_words, without
from planner.faults import Place
from planner.packing.case import (
    Case,
    Drop,
    open_all_day,
    with_gap,
    with_more_days,
    with_one_more_person,
    with_one_more_rig,
    with_person,
    with_rig,
    with_visits,
    without_availability,
    without_window,
    without_wish,
)
from planner.protocol.model import KeyPath
from planner.study.model import Person, Rig, Visit
from planner.timing.plan import Why

MORE_MINUTES = (15, 30, 60, 120, 240)


@dataclass(frozen=True)
class Demand:
    """One demand: what it says, where, the case without it, and what dropping it would mean in words."""

    words: str
    place: Place
    drop: Drop
    without: str
    easier: tuple[tuple[str, Drop], ...] = ()


def groups(case: Case) -> list[list[Demand]]:
    """All demands by kind; those that people would rather change come last, so that they are named first."""
    found = [
        list(_windows(case)),
        list(_calibration(case)),
        list(_keep_same(case)),
        list(_rig_counts(case)),
        list(_outages(case)),
        list(_people(case)),
        list(_breaks(case)),
        list(_absences(case)),
        list(_shifts(case)),
        list(_waiting(case)),
        list(_opening(case)),
        list(_cap(case)),
        list(_time_of_day(case)),
        list(_start_ranges(case)),
        list(_most_days(case)),
        list(_least_days(case)),
        list(_study_days(case)),
        list(_wishes(case)),
        list(_availability(case)),
    ]
    return [group for group in found if group]


def _at(case: Case, *path: str | int) -> Place:
    """Where a path of keys stands in the study's files, or its nearest parent."""
    keys: KeyPath = path
    for end in range(len(keys), 0, -1):
        if keys[:end] in case.study.places:
            return case.study.places[keys[:end]]
    return Place("study.yaml")


def _windows(case: Case) -> Iterator[Demand]:
    for name, plan in case.plans.items():
        for link in plan.links:
            if link.why in (Why.DUE, Why.STARTS_WITHIN):
                step = plan.activities[link.later.activity].step
                words = f"the window of {step} in {plan.protocol.title}"
                yield Demand(
                    words, plan.protocol.place(*link.path), without_window(name, link), f"without {words}"
                )


def _calibration(case: Case) -> Iterator[Demand]:
    for name, task in case.study.before_first_use.items():
        words = f"the check of each {name} before its first use ({duration_words(task.takes_s)})"
        kept = {n: t for n, t in case.study.before_first_use.items() if n != name}
        yield Demand(
            words,
            _at(case, "before_first_use", name),
            _with(before_first_use=kept),
            f"without {words}",
        )


def _keep_same(case: Case) -> Iterator[Demand]:
    for field, key in (("keep_same_within", "within_visit"), ("keep_same_across", "across_visits")):
        for name in getattr(case.study, field):
            kept = tuple(n for n in getattr(case.study, field) if n != name)
            words = f"the same {name} {key.replace('_', ' ')}"
            yield Demand(
                words,
                _at(case, "keep_same", key),
                _with(**{field: kept}),
                f"if the {name} might change",
            )


def _rig_counts(case: Case) -> Iterator[Demand]:
    for name in sorted({c for rig in case.study.rigs for c in rig.classes}):
        ids = [rig.id for rig in case.study.rigs if name in rig.classes]
        words = f"only {', '.join(ids)} of class {name}"
        yield Demand(words, _at(case, "rigs", name), with_one_more_rig(name), f"with one more {name}")


def _outages(case: Case) -> Iterator[Demand]:
    for rig in case.study.rigs:
        if rig.out:
            spans = "; ".join(_span(out) for out in rig.out)
            yield Demand(
                f"{rig.id} is out of use {spans}",
                _at(case, "outages", rig.id),
                with_rig(rig.id, _never_out),
                f"if {rig.id} were not out of use",
            )


def _never_out(rig: Rig) -> Rig:
    return replace(rig, out=())


def _people(case: Case) -> Iterator[Demand]:
    for role in sorted({r for person in case.study.people for r in person.roles}):
        ids = [person.id for person in case.study.people if role in person.roles]
        words = f"only {', '.join(ids)} can be {role}"
        yield Demand(words, _at(case, "staff"), with_one_more_person(role), f"with one more {role}")


def _breaks(case: Case) -> Iterator[Demand]:
    for person in case.study.people:
        if any(person.breaks.values()):
            drop = with_person(person.id, lambda p: replace(p, breaks={}))
            yield Demand(
                f"the breaks of {person.id}", _at(case, "shifts", person.id), drop,
                f"if {person.id} had no break at that time",
            )  # fmt: skip


def _absences(case: Case) -> Iterator[Demand]:
    for person in case.study.people:
        if person.absent:
            spans = "; ".join(_span(span) for span in person.absent)
            drop = with_person(person.id, lambda p: replace(p, absent=()))
            yield Demand(
                f"{person.id} is absent {spans}", _at(case, "absences", person.id), drop,
                f"if {person.id} were there",
            )  # fmt: skip


def _shifts(case: Case) -> Iterator[Demand]:
    for person in case.study.people:
        hours = dict(case.study.open)
        drop = with_person(person.id, partial(_at_work, hours))
        easier = tuple(
            (f"if {person.id} stayed {minutes} min longer", with_person(person.id, partial(_longer, minutes)))
            for minutes in MORE_MINUTES
        )
        yield Demand(
            f"the shifts of {person.id}{_usual(person)}", _at(case, "shifts", person.id), drop,
            f"if {person.id} worked all opening hours", easier,
        )  # fmt: skip


def _at_work(hours: Mapping[date, tuple[Interval, ...]], person: Person) -> Person:
    return replace(person, shifts=hours)


def _longer(minutes: int, person: Person) -> Person:
    shifts = {
        on: tuple(Interval(i.start, i.end + timedelta(minutes=minutes)) for i in spans)
        for on, spans in person.shifts.items()
    }
    return replace(person, shifts=shifts)


def _usual(person: Person) -> str:
    spans = sorted({f"{i.start:%H:%M}-{i.end:%H:%M}" for own in person.shifts.values() for i in own})
    return f" ({', '.join(spans[:3])}{', …' if len(spans) > 3 else ''})" if spans else ""


def _waiting(case: Case) -> Iterator[Demand]:
    if (most := case.study.at_most_waiting_s) is not None:
        easier = tuple(
            (f"if a visit might wait {minutes} min longer", _with(at_most_waiting_s=most + 60 * minutes))
            for minutes in MORE_MINUTES
        )
        yield Demand(
            f"at most {duration_words(most)} of waiting in a visit",
            _at(case, "at_most_waiting"),
            _with(at_most_waiting_s=None),
            "without a limit on waiting",
            easier,
        )


def _with(**changes: object) -> Drop:
    return lambda case: case.with_(**changes)


def _opening(case: Case) -> Iterator[Demand]:
    spans = sorted({f"{i.start:%H:%M}-{i.end:%H:%M}" for own in case.study.open.values() for i in own})
    yield Demand(
        f"the laboratory is open {', '.join(spans[:3])}",
        _at(case, "days", "open"),
        _all_day,
        "if the laboratory were open all day",
    )


def _all_day(case: Case) -> Case:
    """Open from the first to the last minute; whoever works up to the doors' closing stays with them."""
    wide = open_all_day(case)
    people = []
    for person in case.study.people:
        shifts = {
            on: tuple(
                _stretched(span, case.study.open.get(on, ()), wide.study.open.get(on, ())) for span in spans
            )
            for on, spans in person.shifts.items()
        }
        works = {
            on: without(spans, (*person.breaks.get(on, ()), *person.absent)) for on, spans in shifts.items()
        }
        people.append(replace(person, shifts=shifts, works=works))
    return wide.with_(people=tuple(people))


def _stretched(shift: Interval, hours: Sequence[Interval], wide: Sequence[Interval]) -> Interval:
    if not hours or not wide:
        return shift
    start = wide[0].start if shift.start <= hours[0].start else shift.start
    end = wide[-1].end if shift.end >= hours[-1].end else shift.end
    return Interval(start, end)


def _cap(case: Case) -> Iterator[Demand]:
    if (most := case.study.at_most_visits_a_day) is not None:
        easier = tuple(
            (f"with at most {most + more} visits a day", _with(at_most_visits_a_day=most + more))
            for more in (1, 2, 3)
        )
        yield Demand(
            f"at most {most} visits a day",
            _at(case, "at_most_visits_a_day"),
            _with(at_most_visits_a_day=None),
            "without a limit on visits a day",
            easier,
        )


def _time_of_day(case: Case) -> Iterator[Demand]:
    if (width := case.study.same_time_of_day_s) is not None:
        yield Demand(
            f"starts of one participant within {duration_words(width)} of the day",
            _at(case, "same_time_of_day"),
            _with(same_time_of_day_s=None),
            "if the time of day might differ",
        )


def _start_ranges(case: Case) -> Iterator[Demand]:
    for number, kind in enumerate(case.study.kinds):
        if kind.start is not None:
            yield Demand(
                f"{kind.id} starts {kind.start}",
                _at(case, "visits", kind.id, "start") if ("visits", kind.id) in case.study.places
                else _at(case, "visits", number, "start"),
                with_visits(partial(_any_start, kind.id)),
                f"if {kind.id} might start at any time",
            )  # fmt: skip


def _any_start(kind: str, visit: Visit) -> Visit:
    return replace(visit, start=None) if visit.kind == kind else visit


def _gaps(case: Case) -> Iterator[tuple[str, bool, DaySpan]]:
    """Kind of visit, whether it is between its conditions, and the days that are asked for."""
    seen = set()
    for visits in case.study.asked.values():
        for visit in visits:
            later_one = visit.number is not None and visit.number > 1
            if visit.gap is not None and (visit.kind, later_one) not in seen:
                seen.add((visit.kind, later_one))
                yield visit.kind, later_one, visit.gap


def _gap_place(case: Case, kind: str, later_one: bool) -> Place:
    key = "between_conditions" if later_one else "since_last"
    number = [k.id for k in case.study.kinds].index(kind)
    for path in (("visits", kind, key), ("visits", number, key), ("between_visits",)):
        if path in case.study.places:
            return case.study.places[path]
    return _at(case, "visits", kind)


def _most_days(case: Case) -> Iterator[Demand]:
    for kind, later_one, gap in _gaps(case):
        if gap.at_most is not None:
            yield Demand(
                f"at most {gap.at_most} days {_between(kind, later_one)}",
                _gap_place(case, kind, later_one),
                with_gap(kind, later_one, lambda span: DaySpan(span.at_least, None)),
                f"with more than {gap.at_most} days {_between(kind, later_one)}",
            )


def _least_days(case: Case) -> Iterator[Demand]:
    for kind, later_one, gap in _gaps(case):
        if gap.at_least > 0:
            yield Demand(
                f"at least {gap.at_least} days {_between(kind, later_one)}",
                _gap_place(case, kind, later_one),
                with_gap(kind, later_one, lambda span: DaySpan(0, span.at_most)),
                f"with fewer than {gap.at_least} days {_between(kind, later_one)}",
            )


def _between(kind: str, later_one: bool) -> str:
    return f"between two visits of {kind}" if later_one else f"between {kind} and the visit before it"


def _study_days(case: Case) -> Iterator[Demand]:
    study = case.study
    yield Demand(
        f"the study's open days ({len(study.open)}), {study.first_day} to {study.last_day}",
        _at(case, "days"),
        with_more_days,
        "with more days",
    )


def _wishes(case: Case) -> Iterator[Demand]:
    for wish in case.study.wishes:
        fixed = [str(value) for value in (wish.date, wish.rig, wish.person) if value]
        fixed += [f"{wish.start:%H:%M}"] if wish.start else []
        words = f"{wish.participant}, {wish.visit or 'all visits'} is fixed to {', '.join(fixed)}"
        yield Demand(words, wish.place, without_wish(wish), f"if {wish.participant} were not fixed")


def _availability(case: Case) -> Iterator[Demand]:
    for participant, lines in case.study.available.items():
        spans = sorted({f"{i.start:%a %H:%M}-{i.end:%H:%M}" for i, _ in lines})
        words = f"{participant} can come {', '.join(spans[:4])}{', …' if len(spans) > 4 else ''}"
        easier = tuple(
            (
                f"if {participant} could come {minutes} min earlier and stay {minutes} min longer",
                partial(_wider, participant, minutes),
            )
            for minutes in MORE_MINUTES
        )
        yield Demand(
            words,
            _at(case, "availability", participant),
            without_availability(participant),
            f"if {participant} could come at any time",
            easier,
        )


def _wider(participant: str, minutes: int, case: Case) -> Case:
    more = timedelta(minutes=minutes)
    lines = tuple((Interval(i.start - more, i.end + more), k) for i, k in case.study.available[participant])
    return case.with_(available={**case.study.available, participant: lines})


def _span(span: Interval) -> str:
    if span.start.date() == span.end.date():
        return f"{span.start:%d %b %H:%M}-{span.end:%H:%M}"
    return f"{span.start:%d %b %H:%M} to {span.end:%d %b %H:%M}"


def without_all(case: Case, demands: Sequence[Demand]) -> Case:
    """The case with all these demands dropped."""
    for demand in demands:
        case = demand.drop(case)
    return case
