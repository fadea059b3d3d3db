"""A workbook of plain tables: no text of a user becomes a formula or a link; same content, same bytes."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time
from typing import Any, NamedTuple

import xlsxwriter

Cell = str | int | float | date | datetime | time | None
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_WIDEST = 60


class Table(NamedTuple):
    """One sheet: its name, column heads and rows."""

    name: str
    columns: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    note: str = ""


def guarded(text: str) -> str:
    """The text with a leading apostrophe where a spreadsheet could take it for a formula."""
    return f"'{text}" if text.startswith(_FORMULA_STARTS) else text


def spreadsheet(tables: Iterable[Table], *, title: str, made: datetime) -> bytes:
    """An XLSX file with a sheet for each table; heads stay in sight and repeat on paper."""
    target = io.BytesIO()
    safe = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(target, {"in_memory": True, **safe})
    book.set_properties({"title": title, "created": made.replace(tzinfo=None)})
    formats = _Formats(book)
    for table in tables:
        _write(book, table, formats)
    book.close()
    return target.getvalue()


class _Formats:
    def __init__(self, book: Any) -> None:
        self.head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.by_type = {
            datetime: book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss", "align": "left"}),
            date: book.add_format({"num_format": "yyyy-mm-dd", "align": "left"}),
            time: book.add_format({"num_format": "hh:mm:ss", "align": "left"}),
        }
        self.text = book.add_format({"text_wrap": True, "valign": "top"})


def _write(book: Any, table: Table, formats: _Formats) -> None:
    sheet = book.add_worksheet(table.name[:31])
    top = 1 if table.note else 0
    if table.note:
        sheet.write_string(0, 0, guarded(table.note))
    for column, head in enumerate(table.columns):
        sheet.write_string(top, column, head, formats.head)
    for number, row in enumerate(table.rows, top + 1):
        for column, value in enumerate(row):
            _cell(sheet, number, column, value, formats)
    for column, width in enumerate(_widths(table)):
        sheet.set_column(column, column, width)
    sheet.freeze_panes(top + 1, 0)
    sheet.repeat_rows(top)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    if table.rows:
        sheet.autofilter(top, 0, top + len(table.rows), len(table.columns) - 1)


def _cell(sheet: Any, row: int, column: int, value: Cell, formats: _Formats) -> None:
    if value is None:
        return
    if isinstance(value, str):
        sheet.write_string(row, column, guarded(value), formats.text)
    elif isinstance(value, date | datetime | time):
        sheet.write_datetime(row, column, value, formats.by_type[type(value)])
    else:
        sheet.write_number(row, column, value)


def _widths(table: Table) -> list[int]:
    found = []
    for column, head in enumerate(table.columns):
        longest = max((len(str(row[column] or "")) for row in table.rows), default=0)
        found.append(min(_WIDEST, max(longest, min(len(head), 14)) + 2))
    return found
