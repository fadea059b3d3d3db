"""A study's tables as people fill them in: their columns, their text to rows and back, dropped files."""

from __future__ import annotations

import csv
import io
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from planner.faults import Faults
from planner.study.tables import read_any_table


@dataclass(frozen=True, slots=True)
class SheetForm:
    """One table of a study: its key in study.yaml, its columns (those after `needed` may be left out)."""

    key: str
    title: str
    needed: tuple[str, ...]
    optional: tuple[str, ...]
    words: str

    @property
    def columns(self) -> tuple[str, ...]:
        """All columns, in order."""
        return (*self.needed, *self.optional)

    @property
    def file(self) -> str:
        """The name of a file begun for it."""
        return f"{self.key}.csv"


_MOMENTS = "A day such as 2027-03-02, or a day and a time such as 2027-03-02T09:00, under from and to."
FORMS: Mapping[str, SheetForm] = {
    form.key: form
    for form in (
        SheetForm(
            "staff",
            "Staff",
            ("person", "roles"),
            (),
            "A code for each staff member, and all roles that this person can take: operator, cheek support.",
        ),
        SheetForm(
            "shifts",
            "Shifts",
            ("person", "days", "from", "to"),
            ("breaks",),
            "Under days: weekdays (mon-fri) or dates; a dated line replaces that day's weekday lines. "
            "Breaks such as 12:00-12:30;15:00-15:15.",
        ),
        SheetForm("absences", "Absences", ("person", "from", "to"), (), f"{_MOMENTS} Give no reason."),
        SheetForm(
            "participants",
            "Participants",
            ("participant",),
            ("group", "replaces"),
            "A code for each participant, never a name. The list of who is who is kept elsewhere. "
            "Who comes in the place of somebody who left names that one under replaces.",
        ),
        SheetForm(
            "availability",
            "Availability",
            ("participant", "days", "from", "to"),
            ("visit",),
            "When each participant may come, on mon-fri or a date; without a line, at all opening hours.",
        ),
        SheetForm("outages", "Out of use", ("rig", "from", "to"), (), _MOMENTS),
        SheetForm(
            "fixed",
            "Fixed visits",
            ("participant",),
            ("visit", "date", "start", "rig", "person"),
            "Visits whose day, start, device or staff member is settled. Only the participant is needed.",
        ),
    )
}


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table as text cells; every row has as many as there are columns. `lines`: where each row begins."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...] = ()

    def text(self) -> str:
        """The table as CSV; rows in which nothing is written are left out."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(self.columns)
        writer.writerows(row for row in self.rows if any(row))
        return out.getvalue()

    def under(self, columns: Sequence[str]) -> Sheet:
        """The table with these columns first, empty where it lacks one, and its own others after them."""
        order = [*columns, *(name for name in self.columns if name not in columns)]
        spots = {name: number for number, name in enumerate(self.columns)}
        rows = tuple(tuple(row[spots[name]] if name in spots else "" for name in order) for row in self.rows)
        return Sheet(tuple(order), rows, self.lines)


def sheet_of(text: str, separator: str = ",") -> Sheet:
    """The rows of a CSV text. Raises ValueError, with words, where it is none."""
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff")), delimiter=separator, strict=True)
    head: tuple[str, ...] | None = None
    rows: list[tuple[str, ...]] = []
    lines: list[int] = []
    try:
        before = 0
        for cells in reader:
            words = [cell.strip() for cell in cells]
            if any(words):
                if head is None:
                    head = tuple(words)
                else:
                    rows.append(tuple((words + [""] * len(head))[: max(len(head), len(words))]))
                    lines.append(before + 1)
            before = reader.line_num
    except csv.Error as error:
        raise ValueError(f"line {reader.line_num} cannot be read: {error}") from error
    columns = _named(head or (), max((len(row) for row in rows), default=0))
    wide = tuple((*row, *[""] * (len(columns) - len(row))) for row in rows)
    return Sheet(columns, wide, tuple(lines))


def _named(head: Sequence[str], wide: int) -> tuple[str, ...]:
    """A name of its own for every column, so that no cell is lost."""
    found: list[str] = []
    for number in range(max(len(head), wide)):
        name = head[number] if number < len(head) and head[number] else f"column {number + 1}"
        found.append(name if name not in found else f"{name} ({number + 1})")
    return tuple(found)


def dropped(data: bytes, name: str) -> Sheet:
    """The table of a dropped CSV or XLSX file. Raises ValueError, with words, where it cannot be read."""
    if Path(name).suffix.lower() == ".xlsx":
        return _workbook(data)
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            text = data.decode(encoding)
            break
        except UnicodeDecodeError:
            continue
    else:
        raise ValueError("the file is no text")
    first = text.split("\n", 1)[0]
    return sheet_of(text, max(",;\t", key=first.count))


def _workbook(data: bytes) -> Sheet:
    faults = Faults()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "dropped.xlsx"
        path.write_bytes(data)
        table = read_any_table(path, faults, needed=(), shown="the workbook")
    if table is None or faults.faults:
        raise ValueError("; ".join(fault.words for fault in faults.faults) or "the workbook is empty")
    return Sheet(
        _named(table.columns, 0),
        tuple(row.texts for row in table.rows),
        tuple(row.line for row in table.rows),
    )
