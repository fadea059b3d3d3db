"""A study folder to a frozen `Study`, or the faults of all its files at once."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, tzinfo
from pathlib import Path

from planner.clock import Interval, skipped
from planner.faults import Faults, FaultyInput, Place
from planner.files import Table, Tree, read_yaml
from planner.study.checks import Names, check_protocol, check_study_names, need_staff, warn_of_idle_roles
from planner.study.comers import Coming, read_availability, read_participants, read_replaced
from planner.study.hours import Line, dates_between, overlap, parse_days, resolve
from planner.study.model import FirstUse, Person, Rig, Study, Visit, Wish
from planner.study.names import Known
from planner.study.privacy import warn_of_people
from planner.study.rigs import classes_of, rigs, warn_of_idle
from planner.study.shape import read_written
from planner.study.source import Source
from planner.study.staff import Places, Shifts, people, read_moments, read_roles, read_shifts
from planner.study.visits import Comers, asked_visits, visit_kinds
from planner.study.wishes import COLUMNS, read_wishes
from planner.study.working_time import warn_of_working_time
from planner.study.written import Written

STUDY_FILE = "study.yaml"


def read_study(folder: Path) -> Study:
    """The study of that folder. Raises FaultyInput with every fault of all its files."""
    faults = Faults()
    tree = read_yaml(folder / STUDY_FILE, faults, shown=STUDY_FILE)
    written = read_written(tree, faults) if tree else None
    if tree is None or written is None:
        raise FaultyInput(faults.faults, faults.warnings)
    reading = _Reading(written, tree, Source(folder, faults, {STUDY_FILE: folder / STUDY_FILE}))
    found = reading.study()
    faults.raise_if_any()
    return found


@dataclass
class _Reading:
    """One study while it is read: a method a part, each noting its own faults."""

    written: Written
    tree: Tree
    source: Source
    places: Places = field(init=False)
    has_no_staff: bool = field(init=False, default=False)  # the table was read, and has no line

    def __post_init__(self) -> None:
        self.places = dict(self.tree.places)

    @property
    def faults(self) -> Faults:
        return self.source.faults

    @property
    def zone(self) -> tzinfo:
        return self.written.time_zone or UTC

    @property
    def dates(self) -> tuple[date, ...]:
        days = self.written.days
        return dates_between(days.from_, days.to) if days else ()

    def study(self) -> Study:
        """All parts together; what a fault left out is empty."""
        written, dates = self.written, self.dates
        opened = self.open_hours()
        found_rigs, staff = self.rigs(), self.people()
        participants = self.table("participants", ("participant",), ("group", "replaces"))
        codes, groups = (
            read_participants(participants, self.faults, self.places) if participants else ((), {})
        )
        replaced = read_replaced(participants, groups, codes, self.faults) if participants else {}
        comers = Comers(codes, groups, replaced)
        kinds = visit_kinds(written, self.tree, comers, self.source, self.places)
        asked = asked_visits(written, kinds, self.tree, comers, self.source)
        available = self.availability(codes, [kind.id for kind in kinds])
        wishes = self.wishes(asked, found_rigs, staff, opened)
        self.check_names(found_rigs, staff)
        return Study(
            name=written.name or "",
            folder=self.source.folder,
            zone=self.zone,
            plan_on=written.plan_on,
            seed=written.seed,
            kinds=kinds,
            protocols={name: one for name, one in self.source.protocols.items() if one},
            participants=codes,
            groups=groups,
            asked=asked,
            first_day=dates[0] if dates else date.min,
            last_day=dates[-1] if dates else date.min,
            open=opened,
            rigs=found_rigs,
            people=staff,
            available=available,
            same_time_of_day_s=written.same_time_of_day,
            at_most_visits_a_day=written.at_most_visits_a_day,
            at_most_waiting_s=written.at_most_waiting,
            keep_same_within=tuple(written.keep_same.within_visit),
            keep_same_across=tuple(written.keep_same.across_visits),
            before_first_use={
                rig_class: FirstUse(rig_class, one.takes, tuple(one.staff))
                for rig_class, one in written.before_first_use.items()
            },
            wishes=wishes,
            demo=written.demo,
            on_site=written.on_site.filled(),
            fingerprint=self.source.fingerprint(),
            places=self.places,
            warnings=tuple(self.faults.warnings),
        )

    def table(self, key: str, needed: Sequence[str], optional: Sequence[str] = ()) -> Table | None:
        """The table that this key of study.yaml names, if it does; looked through for personal data."""
        name = getattr(self.written, key)
        if name is None:
            return None
        table = self.source.table(name, self.tree.value_place((key,)), needed=needed, optional=optional)
        if table and needed[0] != "rig":
            warn_of_people(table, needed[0], self.faults)
        return table

    def open_hours(self) -> dict[date, tuple[Interval, ...]]:
        """The opening hours of every open date; closed dates are left out."""
        days = self.written.days
        if days is None:
            return {}
        lines: list[Line] = []
        for key, ranges in days.open.items():
            try:
                lines += [Line(parse_days(key), one, len(lines)) for one in ranges]
            except ValueError as error:
                self.faults.add(self.tree.place(("days", "open", key)), "value", f"open: {error}")
        by_date = resolve(lines, self.dates, self.zone)
        if clash := next((on for on, pairs in by_date.items() if overlap(pairs)), None):
            words = f"two ranges of opening hours overlap on {clash}"
            self.faults.add(self.tree.place(("days", "open")), "overlap", words)
        closed = {on for one in days.closed for on in self.dates if on in one or on.weekday() in one}
        opened = {on: tuple(one for one, _ in pairs) for on, pairs in by_date.items() if on not in closed}
        for words in filter(
            None, (skipped(end) for hours in opened.values() for one in hours for end in one)
        ):
            self.faults.warn(self.tree.place(("days", "open")), "no-such-time", f"opening hours: {words}")
        if not opened and lines:
            words = f"no day from {days.from_} to {days.to} is open"
            self.faults.add(self.tree.place(("days",)), "never-open", words)
        return opened

    def rigs(self) -> tuple[Rig, ...]:
        """The rigs with their outages."""
        classes = classes_of(self.written.rigs or {}, self.tree, self.faults)
        if self.written.rigs == {}:
            self.faults.add(self.tree.place(("rigs",)), "empty", "no class of device is named")
        table = self.table("outages", ("rig", "from", "to")) if classes else None
        known = Known(classes, "rig", "study.yaml (rigs)")
        outages = read_moments(table, "rig", known, self.zone, self.faults) if table else {}
        self.warn_of_idle(outages)
        return rigs(classes, outages, self.places)

    def people(self) -> tuple[Person, ...]:
        """The people with their shifts, breaks and absences."""
        staff = self.table("staff", ("person", "roles"))
        self.has_no_staff = staff is not None and not staff.rows
        roles = read_roles(staff, self.faults, self.places) if staff else {}
        known = Known(roles, "person", "the staff table")
        shifts_table = self.table("shifts", ("person", "days", "from", "to"), ("breaks",))
        shifts = read_shifts(shifts_table, known, self.faults) if shifts_table and staff else Shifts()
        table = self.table("absences", ("person", "from", "to"))
        absences = read_moments(table, "person", known, self.zone, self.faults) if table and staff else {}
        self.warn_of_idle(absences)
        found = people(roles, shifts, absences, self.dates, self.zone, self.faults, self.places)
        warn_of_working_time(found, self.places, self.faults)
        return found

    def warn_of_idle(self, lines: Mapping[str, Sequence[tuple[Interval, Place]]]) -> None:
        """Warn of outages and absences outside the days of the study."""
        if self.dates:
            warn_of_idle(lines, self.dates[0], self.dates[-1], self.faults)

    def availability(self, codes: Sequence[str], kinds: Sequence[str]) -> dict[str, Coming]:
        """When each participant may come."""
        table = self.table("availability", ("participant", "days", "from", "to"), ("visit",))
        if table is None or not codes:
            return {}
        return read_availability(table, codes, kinds, self.dates, self.zone, self.faults, self.places)

    def wishes(
        self,
        asked: Mapping[str, Sequence[Visit]],
        found_rigs: Sequence[Rig],
        staff: Sequence[Person],
        opened: Collection[date],
    ) -> tuple[Wish, ...]:
        """The fixed visits."""
        table = self.table("fixed", ("participant",), COLUMNS)
        if table is None or not asked or not self.dates:
            return ()
        rig_names = Known([rig.id for rig in found_rigs], "rig", "study.yaml (rigs)")
        person_names = Known([person.id for person in staff], "person", "the staff table")
        return read_wishes(table, asked, rig_names, person_names, opened, self.zone, self.faults)

    def check_names(self, found_rigs: Sequence[Rig], staff: Sequence[Person]) -> None:
        """Classes and roles that protocols and study.yaml name; only where rigs and staff could be read."""
        protocols = [one for one in self.source.protocols.values() if one]
        if self.has_no_staff and self.written.staff:
            need_staff(protocols, self.written, Place(self.written.staff), self.faults)
        if not found_rigs or not staff:
            return
        classes = dict.fromkeys(name for rig in found_rigs for name in rig.classes)
        roles = dict.fromkeys(role for person in staff for role in person.roles)
        names = Names(classes, roles)
        for protocol in protocols:
            check_protocol(protocol, names, self.faults)
        check_study_names(self.written, self.tree, names, self.faults)
        if protocols and self.written.staff:
            warn_of_idle_roles(protocols, self.written, roles, Place(self.written.staff), self.faults)
