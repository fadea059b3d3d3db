"""A CSV table to rows that know their line."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path

from planner.faults import Faults, Place
from planner.files.text import text_of

MOST_TABLE_BYTES = 50_000_000
MOST_COLUMNS = 500


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table; `line` is where it begins. `cells` maps each known column to its text."""

    file: str
    line: int
    columns: tuple[str, ...]
    texts: tuple[str, ...]
    starts: tuple[int, ...]  # where each cell begins, counted from 1

    @property
    def cells(self) -> dict[str, str]:
        """Text by column, outer spaces removed; columns that the table lacks are not in it."""
        return dict(zip(self.columns, self.texts, strict=True))

    def text(self, column: str) -> str:
        """The text of that column; empty where the table lacks it."""
        return self.texts[self.columns.index(column)] if column in self.columns else ""

    def place(self, column: str) -> Place:
        """Where the cell of that column begins; the line's start where the table lacks the column."""
        start = self.starts[self.columns.index(column)] if column in self.columns else 1
        return Place(self.file, self.line, start)


@dataclass(frozen=True, slots=True)
class Table:
    """A CSV file with a head row; blank lines are left out."""

    file: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]


def read_table(
    path: Path,
    faults: Faults,
    *,
    needed: Sequence[str],
    optional: Sequence[str] = (),
    shown: str | None = None,
) -> Table | None:
    """The CSV table, or None where it cannot be read; faults are noted, an unknown column is a warning."""
    file = shown or path.name
    text = text_of(path, file, faults, MOST_TABLE_BYTES, "50 MB")
    if text is None:
        return None
    rows = _rows(text, file, faults)
    head = next(rows, None)
    if head is None:
        faults.add(Place(file), "empty-file", f"{file} is empty", f"Its head row is {','.join(needed)}.")
        return None
    columns = head.texts
    if not head_is_sound(head, faults, needed, optional):
        return None
    body = tuple(row for row in (in_columns(row, columns, faults) for row in rows) if row)
    return Table(file, columns, body)


def _rows(text: str, file: str, faults: Faults) -> Iterator[Row]:
    """The rows as written, without blank ones; stops at a row that CSV cannot hold."""
    lines = text.splitlines(keepends=True)
    reader = csv.reader(lines, strict=True)
    same: dict[str, str] = {}  # a long table repeats its words: keep each once
    while True:
        line = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            faults.add(Place(file, line), "table-syntax", *_why_not(lines[line - 1], error))
            return
        texts = tuple(same.setdefault(word, word) for word in (cell.strip() for cell in cells))
        if any(texts):
            yield Row(file, line, texts, texts, _starts(lines[line - 1], len(texts)))


def _why_not(line: str, error: csv.Error) -> tuple[str, str]:
    """Why a row that begins with that line cannot be read, and what to do."""
    longest = max(len(cell.strip()) for cell in line.split(","))
    if longest > (most := csv.field_size_limit()):
        return f"a cell of this row has {longest} letters, and may have at most {most}", "Shorten it."
    return f"this row cannot be read: {error}", "Check its quotes."


def _starts(line: str, count: int) -> tuple[int, ...]:
    """Where each cell begins in the row's first line; cells on a later line get the last one seen."""
    if '"' not in line:
        ends = accumulate(len(part) + 1 for part in line.split(","))
        starts = [1, *(end + 1 for end in ends)][:-1]
        return tuple((starts + starts[-1:] * count)[:count])
    starts, quoted = [1], False
    for number, letter in enumerate(line, start=1):
        if letter == '"':
            quoted = not quoted
        elif letter == "," and not quoted:
            starts.append(number + 1)
    return tuple((starts + starts[-1:] * count)[:count])


def head_is_sound(head: Row, faults: Faults, needed: Sequence[str], optional: Sequence[str]) -> bool:
    """Whether the head row names all that is needed, nothing twice; what it lacks or adds is noted."""
    from difflib import get_close_matches

    before = len(faults.faults)
    known = [*needed, *optional]
    lacking = [column for column in needed if column not in head.texts]
    if lacking and len(head.texts) == 1 and re.search("[;\t]", head.texts[0]):
        faults.add(Place(head.file, head.line), "separator", "the columns are not separated by commas")
        return False
    if len(head.texts) > MOST_COLUMNS:
        words = (
            f"the head row has {len(head.texts)} columns, more than the {MOST_COLUMNS} that a table may have"
        )
        faults.add(
            Place(head.file, head.line), "too-many-columns", words, "Leave out those that are not needed."
        )
        return False
    seen: set[str] = set()
    for number, column in enumerate(head.texts):
        place = Place(head.file, head.line, head.starts[number])
        if column in seen:
            faults.add(place, "duplicate-column", f"the column {column!r} stands here again")
        elif column not in known:
            near = get_close_matches(column, known, 1)
            hint = f"Did you mean {near[0]!r}?" if near else f"Known are {', '.join(known)}."
            faults.warn(place, "unknown-column", f"the column {column!r} is not known and is not read", hint)
        seen.add(column)
    for column in lacking:
        words = f"the column {column!r} is missing"
        faults.add(Place(head.file, head.line), "missing-column", words, f"Needed are {', '.join(needed)}.")
    return len(faults.faults) == before


def in_columns(row: Row, columns: tuple[str, ...], faults: Faults) -> Row | None:
    """The row under its head; a row with too many cells is a fault, lacking cells at its end are empty."""
    extra = [text for text in row.texts[len(columns) :] if text]
    if extra:
        place = Place(row.file, row.line, row.starts[len(columns)])
        words = f"this row has {len(row.texts)} cells under {len(columns)} columns"
        faults.add(place, "extra-cell", words, "Put quotes around a cell with a comma.")
        return None
    lack = len(columns) - len(row.texts)
    texts = (row.texts + ("",) * lack)[: len(columns)]
    starts = (row.starts + row.starts[-1:] * lack)[: len(columns)]
    return Row(row.file, row.line, columns, texts, starts)
