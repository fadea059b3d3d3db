"""Rows that were copied from a spreadsheet: their text to the rows of a table."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any


def pasted(text: str, columns: Sequence[str]) -> list[dict[str, str]]:
    """A dictionary a row, by column; a first row that holds the names of columns says which is which.

    Cells are parted by tabs, as spreadsheets copy them, or by commas where there is no tab. Raises
    ValueError, with words, where a row has more cells than the table has columns, or names other columns.
    """
    mark = "\t" if "\t" in text else ","
    cells = [[c.strip() for c in row] for row in csv.reader(io.StringIO(text), delimiter=mark)]
    rows = [row for row in cells if any(row)]
    order = _header(rows[0], columns) if rows else []
    if order:
        rows.pop(0)
    else:
        order = list(columns)
    for number, row in enumerate(rows, 1):
        if any(row[len(order) :]):
            raise ValueError(
                f"row {number} has {len(row)} cells, the table {len(order)} columns: {', '.join(columns)}"
            )
    return [{name: cell for name, cell in zip(order, row, strict=False) if name} for row in rows]


def _header(cells: Sequence[str], columns: Sequence[str]) -> list[str]:
    """The column of each cell where the row holds names of columns; else nothing.

    People write "Participant ID" for participant: a column's name with a word more is that column.
    """
    found = [column_of(cell, columns) for cell in cells]
    singular = [name.lower().rstrip("s") for name in columns]
    if not found[0] and not any(cell.lower().rstrip("s") in singular for cell in cells):
        return []
    if foreign := [cell for cell, name in zip(cells, found, strict=True) if cell and not name]:
        raise ValueError(
            f"the first row names columns, and this table has no {' and no '.join(foreign)}; "
            f"it has {', '.join(columns)}"
        )
    return found


def column_of(cell: str, columns: Sequence[str]) -> str:
    """The column that a head in a spreadsheet means, by its first words, one or several; empty where none."""
    words = [word.rstrip("s") for word in cell.lower().split()]
    for name in columns:
        own = [word.rstrip("s") for word in name.lower().split()]
        if words[: len(own)] == own:
            return name
    return ""


def fitted(
    head: Sequence[str], rows: Iterable[Sequence[str]], columns: Sequence[str]
) -> tuple[list[dict[str, str]], list[str]]:
    """The rows of a file by the table's columns, and the heads of what is none of them and is left out."""
    found = [column_of(cell, columns) for cell in head]
    kept = [{name: cell for name, cell in zip(found, row, strict=False) if name} for row in rows]
    return kept, [cell for cell, name in zip(head, found, strict=True) if cell and not name]


def spread(edits: Mapping[str, Any], columns: Sequence[str]) -> dict[str, Any]:
    """The edits of a table; a block that was pasted into one new cell is spread over rows and columns."""
    added: list[Mapping[str, Any]] = []
    for row in edits.get("added_rows", ()):
        block = next((name for name in columns if "\n" in _text(row.get(name)).strip()), None)
        block = block or next((name for name in columns if "\t" in _text(row.get(name))), None)
        if block is None:
            added.append(row)
        else:
            added += pasted(_text(row[block]), columns[list(columns).index(block) :])
    return {**edits, "added_rows": added}


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""
