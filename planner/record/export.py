"""Everything recorded as plain tables with a data dictionary: an analyst needs nothing of ours."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from planner.record.dictionary import EVENT_COLUMNS, VISIT_COLUMNS, dictionary
from planner.record.efforts_file import safe, write_efforts, write_whole
from planner.record.lines import Line
from planner.record.store import Store
from planner.record.tables import content, event
from planner.record.troubles import CAUGHT, in_words


def export(store: Store, folder: Path, *, conditions: bool = False) -> tuple[Path, ...]:
    """Write efforts.csv, events.csv, dictionary.csv; with `conditions`, which unblinds, visits.csv too."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        files = [folder / "efforts.csv", folder / "events.csv"]
        write_efforts(files[0], _in_time(store), store.study)
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


def _in_time(store: Store) -> Sequence[Line]:
    """The present lines in order of time; an effort's bare line only where nothing else tells of it."""
    lines = store.lines()
    if any(not line.reading for line in lines):
        read = {line.line_key.of for line in lines if line.reading}
        lines = tuple(line for line in lines if line.reading or line.note or line.line_key.of not in read)
    return sorted(lines, key=lambda line: line.started.timestamp())


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
