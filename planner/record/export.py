"""Everything recorded as plain tables with a data dictionary: an analyst needs nothing of ours."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from operator import itemgetter
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from planner.clock import duration_words
from planner.record.caught import CAUGHT
from planner.record.csv_cells import Joint, csv_line, plain, yes_or_no
from planner.record.dictionary import EVENT_COLUMNS, VISIT_COLUMNS, dictionary
from planner.record.effort import VisitKey
from planner.record.efforts_file import COLUMNS, RIG, safe, visit_words, write_whole
from planner.record.store import Store
from planner.record.tables import content, event, present_line
from planner.record.times import Times
from planner.record.troubles import in_words
from planner.study.model import Study


def export(store: Store, folder: Path, *, conditions: bool = False) -> tuple[Path, ...]:
    """Write efforts.csv, events.csv, dictionary.csv; with `conditions`, which unblinds, visits.csv too."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        files = [folder / "efforts.csv", folder / "events.csv"]
        write_whole(files[0], _efforts(store))
        write_whole(files[1], _events(store))
        if conditions:
            files.append(folder / "visits.csv")
            write_whole(files[-1], table(VISIT_COLUMNS, _visits(store)))
        meanings = dictionary(str(store.study.zone), conditions=conditions)
        files.append(folder / "dictionary.csv")
        rows = ((line.file, line.column, line.kind, line.meaning) for line in meanings)
        write_whole(files[-1], table(("file", "column", "kind", "meaning"), rows))
    except CAUGHT as error:
        raise in_words(error) from error
    return tuple(files)


def _efforts(store: Store) -> Iterator[str]:
    """The present lines as an efforts file, in order of time: there may be many.

    An effort's bare line stands only where nothing else tells of it.
    """
    joint = Joint(free=(_TAIL.index(name) for name in ("reading", "unit", "note")))
    rows: list[Any] = list(store.stream(_lines_query(joint)))
    if any(is_bare for *_, is_bare in rows):
        read = {(place, effort) for place, effort, _, _, is_bare in rows if not is_bare}
        rows = [row for row in rows if not row[-1] or (row[0], row[1]) not in read]
    times, heads = Times(store.study.zone), _Heads(store.study, joint)
    timed = [(*times[started], heads[place], effort, tail) for place, effort, started, tail, _ in rows]
    timed.sort(key=itemgetter(0))
    yield f"{csv_line((*COLUMNS, RIG))}\r\n"
    for _, moment, head, effort, tail in timed:
        yield f"{head},{effort},{moment},{joint.as_csv(tail)}\r\n"


_TAIL = ("reading", "value", "unit", "acceptable", "note", "rig")


def _lines_query(joint: Joint) -> sa.Select[Any]:
    """Of each line its place, effort, time, what it says, and whether it says nothing but that it began."""
    line = present_line.c
    place = [plain(line[name]) for name in ("participant", "visit", "number", "step", "at_s", "manoeuvre")]
    no_reading, no_note = _is_empty(line.reading), _is_empty(line.note)
    judged = sa.case(
        (sa.or_(line.manoeuvre.is_(None), no_reading), ""),
        (line.acceptable.is_(None), "yes"),
        (line.acceptable, "yes"),
        else_="no",
    )
    tail = [judged if name == "acceptable" else plain(line[name]) for name in _TAIL]
    is_bare = sa.case((sa.and_(no_reading, no_note), 1), else_=0)
    columns = joint.join(place), plain(line.effort), line.started, joint.join(tail), is_bare
    return sa.select(*columns).order_by(line.seq)


def _is_empty(text: sa.ColumnElement[Any]) -> sa.ColumnElement[bool]:
    return sa.or_(text.is_(None), text == "")


class _Heads(dict[str, str]):
    """The first cells of a line, by its joined place: many lines share them."""

    def __init__(self, study: Study, joint: Joint) -> None:
        self.study, self.joint = study, joint

    def __missing__(self, place: str) -> str:
        one, visit, number, step, at_s, manoeuvre = place.split(self.joint.text)
        key = VisitKey(one, visit, int(number) if number else None)
        at = duration_words(int(at_s)) if at_s else ""
        head = csv_line((one, visit_words(self.study, key), step, at, manoeuvre))
        return self.setdefault(place, head)


def table(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """The rows as CSV; text that a spreadsheet would take for a formula gets a leading apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([safe(cell) if isinstance(cell, str) else _plain(cell) for cell in row] for row in rows)
    return out.getvalue()


def _plain(cell: Any) -> str:
    return "" if cell is None else str(cell)


_FREE = frozenset({"reading", "unit", "note", "reason", "station", "token"})


def _events(store: Store) -> Iterator[str]:
    """All events as CSV. Codes, times and hashes begin with a letter or digit: free text needs a look."""
    joint = Joint(free=(EVENT_COLUMNS.index(name) for name in _FREE))
    yield f"{csv_line(EVENT_COLUMNS)}\r\n"
    for (row,) in store.stream(_events_query(joint)):
        yield f"{joint.as_csv(row)}\r\n"


def _events_query(joint: Joint) -> sa.Select[Any]:
    columns = {column.name: column for table in (content, event) for column in table.columns}
    said = {name: plain(column) for name, column in columns.items()}
    said["undone"], said["acceptable"] = yes_or_no(event.c.undone), yes_or_no(content.c.acceptable)
    said["blanked"] = yes_or_no(content.c.salt.is_(None))
    joined = event.outerjoin(content, content.c.seq == event.c.seq)
    row = joint.join(said[name] for name in EVENT_COLUMNS)
    return sa.select(row).select_from(joined).order_by(event.c.seq)


def _visits(store: Store) -> Iterator[Sequence[Any]]:
    for visits in store.study.asked.values():
        for visit in visits:
            yield visit.participant, visit.kind, visit.number, visit.condition
