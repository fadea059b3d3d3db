"""People with their roles, shifts, breaks and absences."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, tzinfo
from itertools import pairwise

from planner.clock import ClockRange, Interval, clock_range, clock_time, local_moment, without
from planner.faults import Faults, Place
from planner.files import Row, Table
from planner.protocol.values import identifier, label
from planner.study.hours import Line, interval_on, joined, overlap, parse_days, resolve
from planner.study.model import Person
from planner.study.names import Known, alike
from planner.study.tables import cell

Places = dict[tuple[str | int, ...], Place]


def read_roles(table: Table, faults: Faults, places: Places) -> dict[str, tuple[str, ...]]:
    """Each person's roles, in the order of the table."""
    found: dict[str, tuple[str, ...]] = {}
    for row in table.rows:
        person = cell(row, "person", identifier, faults)
        roles = cell(row, "roles", _labels, faults)
        if person in found:
            faults.add(
                row.place("person"), "duplicate", f"{person} stands here again", "Write each person once."
            )
        elif person:
            found[person] = roles or ()
            places["staff", person] = row.place("person")
    for later, first in alike(found):
        words = f"{later!r} and {first!r} differ in capitals only"
        faults.add(places["staff", later], "alike", words, "Choose codes that differ in more.")
    return found


def _labels(text: str) -> tuple[str, ...]:
    found = tuple(label(part) for part in text.split(";") if part.strip())
    if len(set(found)) < len(found):
        raise ValueError(f"{text!r} names a role twice")
    return found


class Shifts:
    """The lines of the shifts table by person, and the breaks of each line."""

    def __init__(self) -> None:
        self.lines: dict[str, list[Line]] = defaultdict(list)
        self.breaks: dict[int, tuple[ClockRange, ...]] = {}
        self.rows: dict[int, Row] = {}


def read_shifts(table: Table, known: Known, faults: Faults) -> Shifts:
    """The shifts of all people; a shift of an unknown person is a fault."""
    found = Shifts()
    for number, row in enumerate(table.rows):
        person = cell(row, "person", known, faults)
        on = cell(row, "days", parse_days, faults)
        hours = read_range(row, faults)
        breaks = _breaks(row, hours, faults)
        if person and on and hours:
            found.lines[person].append(Line(on, hours, number))
            found.breaks[number], found.rows[number] = breaks, row
    return found


def read_range(row: Row, faults: Faults) -> ClockRange | None:
    """The columns `from` and `to` as a range of clock times of one day."""
    start, end = cell(row, "from", clock_time, faults), cell(row, "to", clock_time, faults)
    if start is None or end is None:
        return None
    if start >= end:
        words = f"from {start:%H:%M} to {end:%H:%M} is no time at all"
        faults.add(row.place("from"), "no-length", words, "`to` must be later than `from`, on the same day.")
        return None
    return ClockRange(start, end)


def _breaks(row: Row, shift: ClockRange | None, faults: Faults) -> tuple[ClockRange, ...]:
    found: list[ClockRange] = []
    for part in row.cells.get("breaks", "").split(";"):
        if not part.strip():
            continue
        try:
            found.append(clock_range(part.strip()))
        except ValueError as error:
            faults.add(row.place("breaks"), "value", f"breaks: {error}")
    found.sort()
    for one, two in pairwise(found):
        if two.from_ < one.to:
            faults.add(row.place("breaks"), "overlap", f"the breaks {one} and {two} overlap")
    for one in found:
        if shift and not (shift.from_ <= one.from_ and one.to <= shift.to):
            faults.add(row.place("breaks"), "outside", f"the break {one} lies outside the shift {shift}")
    return tuple(found)


def read_moments(
    table: Table, column: str, known: Known, zone: tzinfo, faults: Faults
) -> dict[str, list[tuple[Interval, Place]]]:
    """`from` and `to` date-times (outages of rigs, absences of people) by name, with the place of each."""
    found: dict[str, list[tuple[Interval, Place]]] = defaultdict(list)
    for row in table.rows:
        name = cell(row, column, known, faults)
        start = cell(row, "from", lambda text: local_moment(text, zone), faults)
        end = cell(row, "to", lambda text: local_moment(text, zone), faults)
        if start and end and start.timestamp() >= end.timestamp():
            words = f"from {start:%Y-%m-%d %H:%M} to {end:%Y-%m-%d %H:%M} is no time at all"
            faults.add(row.place("from"), "no-length", words, "`to` must be later than `from`.")
        elif name and start and end:
            found[name].append((Interval(start, end), row.place(column)))
    return found


def people(
    roles: Mapping[str, tuple[str, ...]],
    shifts: Shifts,
    absences: Mapping[str, Sequence[tuple[Interval, Place]]],
    dates: Sequence[date],
    zone: tzinfo,
    faults: Faults,
    places: Places,
) -> tuple[Person, ...]:
    """Every person with what is left of each shift without breaks and absences."""
    found = []
    for person, has in roles.items():
        by_date = resolve(shifts.lines.get(person, []), dates, zone)
        _note_overlaps(person, by_date, shifts, faults)
        away = tuple(interval for interval, _ in absences.get(person, ()))
        for number, (_, place) in enumerate(absences.get(person, ())):
            places["absences", person, number] = place
        rests = {on: _breaks_on(on, pairs, shifts, zone) for on, pairs in by_date.items()}
        for on, pairs in by_date.items():
            places["shifts", person, on.isoformat()] = shifts.rows[pairs[0][1].number].place("person")
        spans = {on: tuple(interval for interval, _ in pairs) for on, pairs in by_date.items()}
        works = {on: without(joined(spans[on]), (*rests[on], *away)) for on in spans}
        found.append(Person(person, has, works, spans, rests, away))
        if not by_date and ("staff", person) in places:
            words = f"{person} has no shift on any day of the study, so nothing is planned with {person}"
            faults.warn(places["staff", person], "no-shift", words)
    return tuple(found)


def _breaks_on(
    on: date, pairs: Sequence[tuple[Interval, Line]], shifts: Shifts, zone: tzinfo
) -> tuple[Interval, ...]:
    ranges = [range_ for _, line in pairs for range_ in shifts.breaks[line.number]]
    return tuple(sorted(found for range_ in ranges if (found := interval_on(on, range_, zone))))


def _note_overlaps(
    person: str, by_date: Mapping[date, Sequence[tuple[Interval, Line]]], shifts: Shifts, faults: Faults
) -> None:
    """Two shifts of one day that share some time: noted once a pair of lines."""
    seen = set()
    for on, pairs in by_date.items():
        if (both := overlap(pairs)) and both not in seen:
            seen.add(both)
            first, second = sorted((shifts.rows[line.number] for line in both), key=lambda row: row.line)
            words = f"the shift of {person} overlaps the one in line {first.line} on {on}"
            faults.add(second.place("person"), "overlap", words, "A dated line replaces weekday lines only.")
