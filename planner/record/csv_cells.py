"""CSV of many rows: the database joins the cells of each row to one text, and few need a second look."""

from __future__ import annotations

import csv
import io
import re
import secrets
from collections.abc import Iterable, Sequence
from typing import Any, TypeAlias

import sqlalchemy as sa

from planner.record.efforts_file import SUSPECT, safe

Cell: TypeAlias = sa.ColumnElement[Any]
_NOTHING: Cell = sa.literal_column("''")


class Joint:
    """What stands between the cells of a joined row: made by chance, so that no cell can hold it.

    `free`: the places of the cells that hold free text, which must not be taken for a formula.
    """

    def __init__(self, free: Iterable[int] = ()) -> None:
        self.text = f"\x1f{secrets.token_hex(3)}"
        self._free = frozenset(free)
        self._suspect = re.compile(f"{self.text}[{re.escape(''.join(SUSPECT))}]").search

    def join(self, cells: Iterable[Cell]) -> Cell:
        """The cells as one text, by the database."""
        between = sa.literal(self.text)
        first, *others = cells
        for cell in others:
            first = first.concat(between).concat(cell)
        return first

    def as_csv(self, row: str) -> str:
        """A joined row as CSV, without the end of its line; quotes stand where a cell needs them."""
        if not (
            "," in row or '"' in row or "\n" in row or "\r" in row or row[:1] in SUSPECT or self._suspect(row)
        ):
            return row.replace(self.text, ",")
        cells = row.split(self.text)
        return csv_line([safe(cell) if place in self._free else cell for place, cell in enumerate(cells)])


def csv_line(cells: Sequence[object]) -> str:
    """The cells as a line of CSV, without its end."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n").writerow(cells)  # cells that hold an end of line are quoted for it
    return out.getvalue().removesuffix("\r\n")


def plain(column: Cell) -> Cell:
    """Text or a number as it stands; null is an empty cell."""
    if not isinstance(column.type, sa.Text):
        column = sa.cast(column, sa.Text)
    return sa.func.coalesce(column, _NOTHING)


def yes_or_no(claim: Cell) -> Cell:
    """`yes`, `no`, or an empty cell where nothing is said."""
    return sa.case((claim.is_(None), _NOTHING), (claim, sa.literal("yes")), else_=sa.literal("no"))
