"""Participants, people, rigs, days and rules of one study, all resolved to instants.

Whoever holds a `Study` may rely on every rule of the formats for study files. Times are zone-aware.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from decimal import Decimal
from functools import cached_property
from pathlib import Path

from planner.clock import ClockRange, DaySpan, Interval
from planner.faults import Fault, Place
from planner.protocol.model import KeyPath, Protocol


@dataclass(frozen=True, slots=True)
class Rig:
    """One device with its place; it may stand in several classes. `out` are its outages."""

    id: str
    classes: tuple[str, ...]
    out: tuple[Interval, ...] = ()


@dataclass(frozen=True, slots=True)
class Person:
    """A member of staff. `works` maps a date to what is left of the shift without breaks and absences.

    `shifts` and `breaks` are the same dates as written, for sheets and warnings.
    """

    id: str
    roles: tuple[str, ...]
    works: Mapping[date, tuple[Interval, ...]]
    shifts: Mapping[date, tuple[Interval, ...]] = field(default_factory=dict)
    breaks: Mapping[date, tuple[Interval, ...]] = field(default_factory=dict)
    absent: tuple[Interval, ...] = ()


@dataclass(frozen=True, slots=True)
class VisitKind:
    """One line of `visits`: which protocol for which condition or group, and when it may come.

    `protocols` maps a condition, a group, or "" (where there is one for all) to the name of a
    protocol file, or to None (this group has no such visit). Orders are in `Study.visits_of`.
    """

    id: str
    protocols: Mapping[str, str | None]
    conditions: tuple[str, ...] = ()
    blind: bool = False
    since_last: DaySpan | None = None
    between_conditions: DaySpan | None = None
    start: ClockRange | None = None


@dataclass(frozen=True, slots=True)
class Visit:
    """One visit that is asked for.

    `number` counts the visits of its kind from 1 where the kind has conditions, else None. `gap`
    are calendar days since the participant's visit before it; None for the first.
    """

    participant: str
    kind: str
    number: int | None
    condition: str | None
    protocol: str  # the name of its file, a key of Study.protocols
    gap: DaySpan | None
    start: ClockRange | None

    @property
    def file_id(self) -> str:
        """`rowing-2` with conditions, blind or not; else the kind's id: the form in file names."""
        return self.kind if self.number is None else f"{self.kind}-{self.number}"


@dataclass(frozen=True, slots=True)
class FirstUse:
    """What is done with a rig of this class before its first use each day."""

    rig_class: str
    takes_s: int
    staff: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Wish:
    """A visit fixed to a day, start, rig or person, or a person kept with a participant; None: free.

    `rig` serves wherever the visit needs a class that it stands in; `person` serves, in one role or
    another, every activity that asks for a role that they have.
    """

    participant: str
    visit: str | None  # file_id, or None for all visits
    date: date | None = None
    start: datetime | None = None
    rig: str | None = None
    person: str | None = None
    place: Place = field(default=Place(""), compare=False)


@dataclass(frozen=True)
class Study:
    """Everything a plan must keep to.

    `open` maps each open date to its opening hours. `available[participant]` lists
    (date, interval, visit kind or None) lines; a participant without lines may come in all opening
    hours. `asked` holds every visit, by participant in the order in which they come.
    """

    name: str
    folder: Path
    zone: tzinfo
    plan_on: Decimal
    seed: int
    kinds: tuple[VisitKind, ...]
    protocols: Mapping[str, Protocol]
    participants: tuple[str, ...]
    groups: Mapping[str, str]
    asked: Mapping[str, tuple[Visit, ...]]
    first_day: date
    last_day: date
    open: Mapping[date, tuple[Interval, ...]]
    rigs: tuple[Rig, ...]
    people: tuple[Person, ...]
    available: Mapping[str, tuple[tuple[Interval, str | None], ...]]
    same_time_of_day_s: int | None = None
    at_most_visits_a_day: int | None = None
    at_most_waiting_s: int | None = None
    keep_same_within: tuple[str, ...] = ()  # classes of rig, or roles
    keep_same_across: tuple[str, ...] = ()
    before_first_use: Mapping[str, FirstUse] = field(default_factory=dict)
    wishes: tuple[Wish, ...] = ()
    demo: bool = False
    on_site: Mapping[str, str] = field(default_factory=dict)  # emergency number and the like, as written
    fingerprint: str = ""  # of all files read
    places: Mapping[KeyPath, Place] = field(default_factory=dict, compare=False, repr=False)
    warnings: tuple[Fault, ...] = field(default=(), compare=False, repr=False)

    def kind(self, kind_id: str) -> VisitKind:
        """The visit kind of that id; KeyError where there is none."""
        for kind in self.kinds:
            if kind.id == kind_id:
                return kind
        raise KeyError(kind_id)

    def rig(self, rig_id: str) -> Rig:
        """The rig of that id; KeyError where there is none."""
        for rig in self.rigs:
            if rig.id == rig_id:
                return rig
        raise KeyError(rig_id)

    def person(self, person_id: str) -> Person:
        """The person of that id; KeyError where there is none."""
        for person in self.people:
            if person.id == person_id:
                return person
        raise KeyError(person_id)

    def may_come(self, visit: Visit, on: date) -> tuple[Interval, ...]:
        """The intervals of that date, one of which must hold the whole visit (opening hours included).

        A participant without a line that is for this kind of visit may come in all opening hours.
        """
        hours = self.open.get(on, ())
        written = self.available.get(visit.participant)
        if written is None:
            return hours
        asked = visit.participant, visit.kind
        if asked not in self._lines:
            self._lines[asked] = self._by_date(written, visit.kind)
        lines = self._lines[asked]
        if written and not lines:
            return hours
        return tuple(
            Interval(max(line.start, hour.start), min(line.end, hour.end))
            for hour in hours
            for line in lines.get(on, ())
            if line.meets(hour)
        )

    @cached_property
    def _lines(self) -> dict[tuple[str, str], Mapping[date, list[Interval]]]:
        """Who may come when, by participant and kind of visit, as far as it was asked for."""
        return {}

    def _by_date(
        self, written: Sequence[tuple[Interval, str | None]], visit_kind: str
    ) -> Mapping[date, list[Interval]]:
        """The lines that are for this kind of visit, by each date that they touch."""
        found: dict[date, list[Interval]] = {}
        for interval, kind in written:
            if kind in (None, visit_kind):
                first, last = (at.astimezone(self.zone).toordinal() for at in interval)
                for day in range(first, last + 1):
                    found.setdefault(date.fromordinal(day), []).append(interval)
        return found
