"""Participants, their groups, and when they may come."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, tzinfo

from planner.clock import Interval
from planner.faults import Faults, Place
from planner.files import Row, Table
from planner.protocol.values import identifier, label
from planner.study.hours import Line, parse_days, resolve
from planner.study.names import Known, alike
from planner.study.staff import Places, read_range
from planner.study.tables import cell

MOST_PLACES = 5  # of one participant's lines for one kind of visit; more than four are never named one by one

Coming = tuple[tuple[Interval, str | None], ...]


def read_participants(table: Table, faults: Faults, places: Places) -> tuple[tuple[str, ...], dict[str, str]]:
    """The codes in the order of the table, and the group of each who has one."""
    found: dict[str, str] = {}
    for row in table.rows:
        code = cell(row, "participant", identifier, faults)
        group = cell(row, "group", label, faults) if row.cells.get("group") else ""
        if code in found:
            words = f"{code} stands here again, first in line {places['participants', code].line}"
            faults.add(row.place("participant"), "duplicate", words, "Write each participant once.")
        elif code:
            found[code] = group or ""
            places["participants", code] = row.place("participant")
    if not table.rows:
        faults.add(
            Place(table.file),
            "empty",
            f"{table.file} names no participant",
            "Write a line for each participant.",
        )
    for later, first in alike(found):
        words = f"{later!r} and {first!r} differ in capitals only"
        faults.add(places["participants", later], "alike", words, "Choose codes that differ in more.")
    return tuple(found), {code: group for code, group in found.items() if group}


def read_replaced(
    table: Table, groups: Mapping[str, str], codes: Sequence[str], faults: Faults
) -> dict[str, str]:
    """Who replaces whom: newcomer -> the participant whose orders of conditions they take.

    Whoever is replaced stays in the table, and may be a newcomer too. Both are in one group.
    """
    known, found = Known(codes, "participant", "participants"), dict[str, str]()
    for row in table.rows:
        code = row.cells["participant"]
        old = cell(row, "replaces", known, faults) if row.cells.get("replaces") else None
        if not old:
            continue
        if groups.get(code, "") != groups.get(old, ""):
            words = f"{code} replaces {old}, who is in another group"
            faults.add(row.place("replaces"), "other-group", words, f"Write the group of {old} for {code}.")
        elif old == code or code in _line_of(old, found):
            words = f"{code} replaces {old}, who replaces {code}"
            faults.add(row.place("replaces"), "replaces-itself", words, "Write who left first.")
        else:
            found[code] = old
    return found


def _line_of(code: str, replaced: Mapping[str, str]) -> Iterator[str]:
    """Whom this participant replaces, and whom that one does, and so on."""
    while code in replaced:
        code = replaced[code]
        yield code


def first_of(code: str, replaced: Mapping[str, str]) -> str:
    """The participant at whose place this one comes, after all replacements."""
    return [code, *_line_of(code, replaced)][-1]


def read_availability(
    table: Table,
    participants: Sequence[str],
    kinds: Sequence[str],
    dates: Sequence[date],
    zone: tzinfo,
    faults: Faults,
    places: Places,
) -> dict[str, Coming]:
    """Each participant's intervals, each with the kind of visit that it is for, or None for all.

    A dated line replaces that participant's weekday lines of its days. The lists are shared between
    participants who wrote the same lines, so that 10 000 of them stay small. `places` gets the first line of
    each participant, and their first few for one kind of visit (`""`: for all), numbered from 0.
    """
    known = Known(participants, "participant", "participants")
    named = Known(kinds, "visit", "visits")
    lines: dict[str, list[tuple[Line, str | None]]] = defaultdict(list)
    seen = Counter[tuple[str, str | None]]()
    for number, row in enumerate(table.rows):
        found = _line(row, number, known, named, faults)
        if found:
            participant, line, kind = found
            lines[participant].append((line, kind))
            if (count := seen[participant, kind]) < MOST_PLACES:
                place = row.place("participant")
                places.setdefault(("availability", participant), place)
                places["availability", participant, kind or "", count] = place
            seen[participant, kind] += 1
    shared: dict[tuple[object, ...], Coming] = {}
    result = {}
    for participant, written in lines.items():
        key = tuple((line.days, line.range, kind) for line, kind in written)
        if key not in shared:
            shared[key] = _coming(written, dates, zone)
        result[participant] = shared[key]
    return result


def _line(
    row: Row, number: int, known: Known, kinds: Known, faults: Faults
) -> tuple[str, Line, str | None] | None:
    participant = cell(row, "participant", known, faults)
    on = cell(row, "days", parse_days, faults)
    hours = read_range(row, faults)
    kind = None
    if row.text("visit"):
        kind = cell(row, "visit", kinds, faults)
        if kind is None:
            return None
    return (participant, Line(on, hours, number), kind) if participant and on and hours else None


def _coming(written: Sequence[tuple[Line, str | None]], dates: Sequence[date], zone: tzinfo) -> Coming:
    kind_of = {line.number: kind for line, kind in written}
    by_date = resolve([line for line, _ in written], dates, zone)
    return tuple((interval, kind_of[line.number]) for pairs in by_date.values() for interval, line in pairs)
