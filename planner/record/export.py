"""Everything recorded as plain tables with a data dictionary: an analyst needs nothing of ours."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from planner.record.dictionary import EVENT_COLUMNS, VISIT_COLUMNS, dictionary
from planner.record.efforts_file import safe, write_efforts, write_whole
from planner.record.store import Store
from planner.record.tables import events_query
from planner.record.troubles import CAUGHT, in_words


def export(store: Store, folder: Path, *, conditions: bool = False) -> tuple[Path, ...]:
    """Write efforts.csv, events.csv, dictionary.csv; with `conditions`, which unblinds, visits.csv too."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        files = [folder / "efforts.csv", folder / "events.csv"]
        write_efforts(files[0], store.happened(), store.study)
        write_whole(files[1], table(EVENT_COLUMNS, _events(store)))
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


def table(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    """The rows as CSV; text that a spreadsheet would take for a formula gets a leading apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    writer.writerows([safe(cell) if isinstance(cell, str) else _plain(cell) for cell in row] for row in rows)
    return out.getvalue()


def _plain(cell: Any) -> str:
    if cell is None:
        return ""
    return ("yes" if cell else "no") if isinstance(cell, bool) else str(cell)


def _events(store: Store) -> Iterator[Sequence[Any]]:
    for row in store.read(events_query()):
        found = row._mapping
        yield [_event_cell(found, name) for name in EVENT_COLUMNS]


def _event_cell(row: Any, name: str) -> Any:
    if name == "blanked":
        return row["salt"] is None
    if name in ("undone", "acceptable") and row[name] is not None:
        return bool(row[name])
    return row[name]


def _visits(store: Store) -> Iterator[Sequence[Any]]:
    for visits in store.study.asked.values():
        for visit in visits:
            yield visit.participant, visit.kind, visit.number, visit.condition
