"""Everything recorded as plain tables with a data dictionary: an analyst needs nothing of ours."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from planner.record.dictionary import EVENT_COLUMNS, VISIT_COLUMNS, dictionary
from planner.record.drafts import LINE_COLUMNS
from planner.record.effort import VisitKey
from planner.record.efforts_file import COLUMNS, Words, local_text, safe, write_whole
from planner.record.store import Store
from planner.record.tables import content, event, present_line
from planner.record.troubles import CAUGHT, in_words


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


def _efforts(store: Store) -> str:
    """The present lines as an efforts file, in order of time, straight from their rows: there may be many.

    An effort's bare line stands only where nothing else tells of it.
    """
    query = sa.select(*(present_line.c[name] for name in LINE_COLUMNS)).order_by(present_line.c.seq)
    rows = list(store.stream(query))
    if any(not row[_READING] for row in rows):
        read = {tuple(row[:_READING]) for row in rows if row[_READING]}
        rows = [r for r in rows if r[_READING] or r[_NOTE] or tuple(r[:_READING]) not in read]
    words = Words(store.study)
    moments = {row[_STARTED]: _moment(row[_STARTED], store) for row in rows}
    rows.sort(key=lambda row: moments[row[_STARTED]][0])
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows(_cells(row, words, moments[row[_STARTED]][1]) for row in rows)
    return out.getvalue()


_READING, _STARTED, _NOTE = (LINE_COLUMNS.index(name) for name in ("reading", "started", "note"))


def _moment(text: str, store: Store) -> tuple[float, str]:
    """The instant, and its local words."""
    moment = datetime.fromisoformat(text).astimezone(store.study.zone)
    return moment.timestamp(), local_text(moment)


def _cells(row: Any, words: Words, started: str) -> tuple[Any, ...]:
    one, visit, number, step, at_s, manoeuvre, effort, reading, _, value, unit, accepted, note = row
    judged = (
        "" if manoeuvre is None or not reading else "no" if accepted is not None and not accepted else "yes"
    )
    at = "" if at_s is None else words.at(at_s)
    name = words.visit(VisitKey(one, visit, number))
    return (
        one, name, step, at, manoeuvre, effort, started, safe(reading or ""), value, safe(unit or ""), judged,
        safe(note or ""),
    )  # fmt: skip


def table(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """The rows as CSV; text that a spreadsheet would take for a formula gets a leading apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([safe(cell) if isinstance(cell, str) else _plain(cell) for cell in row] for row in rows)
    return out.getvalue()


def _plain(cell: Any) -> str:
    return "" if cell is None else str(cell)


_FREE = tuple(EVENT_COLUMNS.index(name) for name in ("reading", "unit", "note", "reason", "station", "token"))


def _events(store: Store) -> str:
    """All events as CSV. Codes, times and hashes begin with a letter or digit: free text needs a look."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(EVENT_COLUMNS)
    for row in store.stream(_events_query()):
        cells = list(row)
        for place in _FREE:
            if cells[place]:
                cells[place] = safe(cells[place])
        writer.writerow(cells)
    return out.getvalue()


def _events_query() -> sa.Select[Any]:
    yes_or_no = {
        "undone": event.c.undone,
        "acceptable": content.c.acceptable,
        "blanked": content.c.salt.is_(None),
    }
    plain = {column.name: column for table in (content, event) for column in table.columns}
    columns = [
        _in_words(yes_or_no[name]).label(name) if name in yes_or_no else plain[name] for name in EVENT_COLUMNS
    ]
    joined = event.outerjoin(content, content.c.seq == event.c.seq)
    return sa.select(*columns).select_from(joined).order_by(event.c.seq)


def _in_words(claim: sa.ColumnElement[Any]) -> sa.ColumnElement[Any]:
    return sa.case((claim.is_(None), sa.null()), (claim, "yes"), else_="no")


def _visits(store: Store) -> Iterator[Sequence[Any]]:
    for visits in store.study.asked.values():
        for visit in visits:
            yield visit.participant, visit.kind, visit.number, visit.condition
