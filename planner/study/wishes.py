"""Visits fixed to a day, a start, a rig or a person."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime, tzinfo

from planner.clock import at_clock, clock_time, day, local_moment, skipped
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
    opened: Collection[date],
    zone: tzinfo,
    faults: Faults,
) -> tuple[Wish, ...]:
    """The lines of the table; a line that fixes nothing, or names what is unknown, is a fault."""
    known = Known(asked, "participant", "participants")
    found: dict[str, list[Wish]] = defaultdict(list)
    for row in table.rows:
        before = len(faults.faults)
        participant = cell(row, "participant", known, faults)
        wish = _wish(row, participant or "", asked, rigs, people, zone, faults)
        _check_day(wish, row, opened, faults)
        _check_against(wish, row, found[wish.participant], faults)
        if len(faults.faults) == before:
            found[wish.participant].append(wish)
    wishes = [wish for own in found.values() for wish in own]
    return tuple(sorted(wishes, key=lambda wish: wish.place.line))


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
    """A date-time, or a clock time on the date of the line, that clocks really show."""
    start = _moment(row, on, zone, faults)
    if start and (words := skipped(start)):
        faults.add(row.place("start"), "no-such-time", words, "Write a time that there is on that day.")
        return None
    return start


def _moment(row: Row, on: date | None, zone: tzinfo, faults: Faults) -> datetime | None:
    text = row.cells["start"]
    if len(text) > 5:
        return cell(row, "start", lambda text: local_moment(text, zone), faults)
    clock = cell(row, "start", clock_time, faults)
    if clock and on is None:
        words = f"the start {text} needs a day"
        faults.add(row.place("start"), "value", words, "Fill the column date, or write '2027-03-01T08:30'.")
    return at_clock(on, clock, zone) if clock and on else None


def _check_day(wish: Wish, row: Row, opened: Collection[date], faults: Faults) -> None:
    """A fixed day is an open day of the study, and the same in both columns."""
    for on in (wish.date, wish.start.date() if wish.start else None):
        if on and on not in opened:
            column = "date" if on == wish.date else "start"
            faults.add(row.place(column), "closed-day", f"{on} is no open day of the study")
            return
    if wish.date and wish.start and wish.date != wish.start.date():
        words = f"the date {wish.date} and the start {wish.start:%Y-%m-%d %H:%M} are two days"
        faults.add(row.place("start"), "value", words)


def _check_against(wish: Wish, row: Row, earlier: Sequence[Wish], faults: Faults) -> None:
    """One visit is fixed to one day and one start; `earlier` are the same participant's lines."""
    for other in earlier:
        same = other.visit == wish.visit or None in (other.visit, wish.visit)
        days = {_day(one) for one in (wish, other)} - {None}
        starts = {one.start for one in (wish, other)} - {None}
        if same and (len(days) > 1 or len(starts) > 1):
            words = f"line {other.place.line} fixes the same visit to another day or start"
            faults.add(row.place("participant"), "contradiction", words, "Keep one of the two lines.")
            return


def _day(wish: Wish) -> date | None:
    return wish.start.date() if wish.start else wish.date
