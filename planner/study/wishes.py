"""Visits fixed to a day, a start, a rig or a person."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, tzinfo

from planner.clock import at_clock, clock_time, day, local_moment
from planner.faults import Faults
from planner.files import Row, Table
from planner.study.model import Visit, Wish
from planner.study.names import Known
from planner.study.tables import cell

COLUMNS = ("visit", "date", "start", "rig", "person")


def read_wishes(
    table: Table,
    asked: Mapping[str, Sequence[Visit]],
    rigs: Known,
    people: Known,
    days: tuple[date, date],
    zone: tzinfo,
    faults: Faults,
) -> tuple[Wish, ...]:
    """The lines of the table; a line that fixes nothing, or names what is unknown, is a fault."""
    known = Known(asked, "participant", "participants")
    found = []
    for row in table.rows:
        before = len(faults.faults)
        participant = cell(row, "participant", known, faults)
        wish = _wish(row, participant or "", asked, rigs, people, zone, faults)
        _check_day(wish, row, days, faults)
        if len(faults.faults) == before:
            found.append(wish)
    return tuple(found)


def _wish(
    row: Row,
    participant: str,
    asked: Mapping[str, Sequence[Visit]],
    rigs: Known,
    people: Known,
    zone: tzinfo,
    faults: Faults,
) -> Wish:
    visits = Known(
        [visit.file_id for visit in asked.get(participant, ())], "visit", f"those of {participant}"
    )
    filled = {column for column in COLUMNS if row.cells.get(column)}
    visit = cell(row, "visit", visits, faults) if "visit" in filled and participant else None
    on = cell(row, "date", day, faults) if "date" in filled else None
    start = _start(row, on, zone, faults) if "start" in filled else None
    rig = cell(row, "rig", rigs, faults) if "rig" in filled else None
    person = cell(row, "person", people, faults) if "person" in filled else None
    if not filled - {"visit"}:
        words = "this line fixes nothing"
        faults.add(row.place("participant"), "empty", words, "Fill date, start, rig or person.")
    return Wish(participant, visit, on, start, rig, person, row.place("participant"))


def _start(row: Row, on: date | None, zone: tzinfo, faults: Faults) -> datetime | None:
    """A date-time, or a clock time on the date of the line."""
    text = row.cells["start"]
    if len(text) > 5:
        return cell(row, "start", lambda text: local_moment(text, zone), faults)
    clock = cell(row, "start", clock_time, faults)
    if clock and on is None:
        words = f"the start {text} needs a day"
        faults.add(row.place("start"), "value", words, "Fill the column date, or write '2027-03-01T08:30'.")
    return at_clock(on, clock, zone) if clock and on else None


def _check_day(wish: Wish, row: Row, days: tuple[date, date], faults: Faults) -> None:
    first, last = days
    for on in (wish.date, wish.start.date() if wish.start else None):
        if on and not first <= on <= last:
            column = "date" if on == wish.date else "start"
            words = f"{on} is no day of the study ({first} to {last})"
            faults.add(row.place(column), "outside-days", words)
            return
    if wish.date and wish.start and wish.date != wish.start.date():
        words = f"the date {wish.date} and the start {wish.start:%Y-%m-%d %H:%M} are two days"
        faults.add(row.place("start"), "value", words)
