"""A study's tables, CSV or XLSX, as rows of text that know their line."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time
from pathlib import Path
from typing import Any, TypeVar
from zipfile import BadZipFile, ZipFile

from planner.faults import Faults, Place
from planner.files import MOST_TABLE_BYTES, Row, Table, head_is_sound, in_columns, read_table

T = TypeVar("T")
MOST_UNPACKED_BYTES = 20 * MOST_TABLE_BYTES  # a workbook that unpacks to more is a trap, not a table
MOST_COLUMNS = 200
MOST_ROWS = 1_048_576


def read_any_table(
    path: Path, faults: Faults, *, needed: Sequence[str], optional: Sequence[str] = (), shown: str
) -> Table | None:
    """The table of a CSV file or of the first sheet of an XLSX workbook; None where it cannot be read."""
    if path.suffix.lower() != ".xlsx":
        return read_table(path, faults, needed=needed, optional=optional, shown=shown)
    if not _is_small(path, shown, faults):
        return None
    rows = _sheet_rows(path, shown, faults)
    head = next(rows, None)
    if head is None:
        faults.add(Place(shown), "empty-file", f"{shown} is empty", f"Its head row is {','.join(needed)}.")
        return None
    if not head_is_sound(head, faults, needed, optional):
        return None
    body = tuple(row for row in (in_columns(row, head.texts, faults) for row in rows) if row)
    return Table(shown, head.texts, body)


def _is_small(path: Path, shown: str, faults: Faults) -> bool:
    """Whether the workbook is one, and unpacks to a bounded size."""
    try:
        size = path.stat().st_size
        with ZipFile(path) as archive:
            unpacked = sum(member.file_size for member in archive.infolist())
    except (OSError, BadZipFile):
        faults.add(Place(shown), "unreadable", f"{shown} is not an XLSX workbook", "Save it as XLSX or CSV.")
        return False
    if size > MOST_TABLE_BYTES or unpacked > MOST_UNPACKED_BYTES:
        faults.add(Place(shown), "too-big", f"{shown} is larger than 50 MB", "It was not read.")
        return False
    return True


def _sheet_rows(path: Path, shown: str, faults: Faults) -> Iterator[Row]:
    """The rows of the first sheet that hold something, read one by one."""
    from openpyxl import load_workbook

    try:
        book = load_workbook(path, read_only=True, data_only=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()  # what the file says of its size need not be true
        for number, cells in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS, max_row=MOST_ROWS), start=1):
            texts = _texts(cells, number, shown, faults)
            if any(texts):
                yield Row(shown, number, texts, texts, tuple(range(1, len(texts) + 1)))
        book.close()
    except Exception as error:  # a damaged workbook makes its parser fail in many ways
        why = type(error).__name__
        faults.add(
            Place(shown), "unreadable", f"{shown} cannot be read ({why})", "Save it anew as XLSX or CSV."
        )


def _texts(cells: Sequence[Any], line: int, shown: str, faults: Faults) -> tuple[str, ...]:
    texts = []
    for column, cell in enumerate(cells, start=1):
        if cell.data_type == "f":
            faults.add(
                Place(shown, line, column), "formula", "this cell holds a formula", "Write the value itself."
            )
        texts.append(_cell_text(cell.value))
    while texts and not texts[-1]:
        texts.pop()
    return tuple(texts)


def _cell_text(value: object) -> str:
    """A cell as it would stand in a CSV file: dates, times and whole numbers in the forms of the formats."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        on_midnight = value.time() == time(0)
        return value.date().isoformat() if on_midnight else value.replace(microsecond=0).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, time):
        return value.strftime("%H:%M" if not value.second else "%H:%M:%S")
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def cell(row: Row, column: str, parse: Callable[[str], T], faults: Faults) -> T | None:
    """The parsed cell, or None with a fault at its place; `parse` raises ValueError with the words."""
    text = row.text(column)
    if not text:
        faults.add(row.place(column), "empty-cell", f"nothing is written under {column!r}")
        return None
    try:
        return parse(text)
    except ValueError as error:
        faults.add(row.place(column), "value", f"{column}: {error}")
        return None
