"""Efforts files: a CSV of one line per reading, read row by row and written back."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from functools import cache, lru_cache, partial
from pathlib import Path

from planner.clock import duration_words
from planner.faults import Fault, Faults, FaultyInput, Place
from planner.files import Row, read_table
from planner.record.effort import Happened, VisitKey
from planner.record.lines import Line, RefusedRow, lines_of
from planner.record.rows import BadRow, Rows
from planner.study.model import Study

COLUMNS = (
    "participant", "visit", "step", "at", "manoeuvre", "effort", "started", "reading", "value", "unit",
    "acceptable", "note",
)  # fmt: skip
RIG = "rig"  # the one column that a file may have besides: the device used
_NEEDED = ("participant", "visit", "step", "started")
SUSPECT = frozenset("'=+-@\t\r")  # how such a text begins: most are passed by looking at one letter
_FORMULA = re.compile(r"'*[=+\-@\t\r]")


@dataclass(frozen=True, slots=True)
class EffortsFile:
    """The rows of a file, each a line or refused with its reason; `warnings` are about its columns."""

    name: str
    rows: tuple[Line | RefusedRow, ...]
    warnings: tuple[Fault, ...] = field(default=(), compare=False)

    @property
    def lines(self) -> tuple[Line, ...]:
        """The rows that could be read."""
        return tuple(row for row in self.rows if isinstance(row, Line))

    @property
    def refused(self) -> tuple[RefusedRow, ...]:
        """The rows that could not."""
        return tuple(row for row in self.rows if isinstance(row, RefusedRow))

    @property
    def rehearsed(self) -> bool:
        """Whether its numbers are made up: what most of its lines say."""
        lines = self.lines
        return bool(lines) and 2 * sum(line.is_rehearsed for line in lines) > len(lines)


def read_efforts(path: Path, study: Study) -> EffortsFile:
    """The rows of an efforts file, judged one by one; FaultyInput where it is no such table at all."""
    faults = Faults()
    optional = [name for name in (*COLUMNS, RIG) if name not in _NEEDED]
    table = read_table(path, faults, needed=_NEEDED, optional=optional)
    unread = [fault for fault in faults.faults if fault.code == "extra-cell"]
    faults.faults = [fault for fault in faults.faults if fault.code != "extra-cell"]
    faults.raise_if_any()
    if table is None:
        raise FaultyInput([Fault(Place(path.name), "unreadable", "the file cannot be read")])
    rows = Rows(study)
    found: list[Line | RefusedRow] = [read_row(rows, row.line - 1, plain_cells(row)) for row in table.rows]
    found += [
        RefusedRow(fault.place.line - 1, ". ".join(filter(None, (fault.message, fault.hint))))
        for fault in unread
    ]
    return EffortsFile(path.name, tuple(sorted(found, key=lambda one: one.row)), tuple(faults.warnings))


def plain_cells(row: Row) -> dict[str, str]:
    """The row's cells, each without the apostrophe that an export puts before what looks like a formula."""
    return {name: _read_back(text) for name, text in row.cells.items()}


def read_row(rows: Rows, number: int, cells: dict[str, str]) -> Line | RefusedRow:
    """The row as a line, or refused with what is wrong and what to do."""
    try:
        return rows.line(number, cells)
    except BadRow as bad:
        return RefusedRow(number, str(bad), cells)


def write_efforts(path: Path, lines: Happened | EffortsFile | Iterable[Line], study: Study) -> int:
    """Write an efforts file, whole or not at all; the number of lines that stand in it after the head.

    The column `rig` is written where some line tells its device.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    all_of_them = list(_plain_lines(lines))
    columns = len(COLUMNS) + any(line.rig for line in all_of_them)
    writer.writerow((*COLUMNS, RIG)[:columns])
    words = Words(study)
    writer.writerows(_cells(line, words)[:columns] for line in all_of_them)
    write_whole(path, text.getvalue())
    return len(all_of_them)


def write_whole(path: Path, text: str | Iterable[str]) -> None:
    """Write a text file, given whole or in parts, for its owner alone, whole or not at all."""
    beside = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with open(
            os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8", newline=""
        ) as out:
            out.writelines([text] if isinstance(text, str) else text)
            out.flush()
            os.fsync(out.fileno())
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)


def _plain_lines(lines: Happened | EffortsFile | Iterable[Line]) -> Iterable[Line]:
    if isinstance(lines, Happened):
        return lines_of(lines)
    return lines.lines if isinstance(lines, EffortsFile) else lines


def _cells(line: Line, words: Words) -> list[str]:
    return [
        line.key.participant,
        words.visit(line.key),
        line.step,
        "" if line.at_s is None else words.at(line.at_s),
        line.manoeuvre or "",
        "" if line.effort is None else str(line.effort),
        local_text(line.started),
        safe(line.reading),
        "" if line.value is None else f"{line.value:f}",
        safe(line.unit),
        "" if line.is_mark or not line.reading else ("yes" if line.acceptable else "no"),
        safe(line.note),
        line.rig or "",
    ]


class Words:
    """What many lines share, put into words once."""

    def __init__(self, study: Study) -> None:
        self.visit = cache(partial(visit_words, study))
        self.at = cache(duration_words)


def visit_words(study: Study, key: VisitKey) -> str:
    """The visit as the file names it: its id, with conditions `id/condition` or, blind, `id/2`.

    Of a kind that the study no longer has nobody knows whether it is blind: the condition is not said.
    """
    if key.number is None:
        return key.visit
    if any(kind.id == key.visit and not kind.blind for kind in study.kinds):
        for visit in study.asked.get(key.participant, ()):
            if (visit.kind, visit.number) == (key.visit, key.number):
                return f"{key.visit}/{visit.condition}"
    return f"{key.visit}/{key.number}"


def local_text(moment: datetime) -> str:
    """The local date-time; with its offset only where clocks show it twice."""
    hour = (moment.year, moment.month, moment.day, moment.hour)
    if _may_be_twice(moment.tzinfo, *hour) and _is_twice(moment):
        return moment.isoformat()
    return moment.replace(tzinfo=None, fold=0).isoformat()


@lru_cache(maxsize=10_000)
def _may_be_twice(tz: tzinfo | None, year: int, month: int, day: int, hour: int) -> bool:
    """Whether clocks are changed in that local hour."""
    moments = [datetime(year, month, day, hour, minute, tzinfo=tz) for minute in (0, 15, 30, 45, 59)]
    return any(one.utcoffset() != one.replace(fold=1).utcoffset() for one in moments)


def _is_twice(moment: datetime) -> bool:
    """Whether that local time comes twice: put back, the offset of the first is the greater."""
    first, second = moment.replace(fold=0).utcoffset(), moment.replace(fold=1).utcoffset()
    return (first or timedelta()) > (second or timedelta())


def safe(text: str) -> str:
    """Text that a spreadsheet will not take for a formula: such a one gets a leading apostrophe."""
    return f"'{text}" if text[:1] in SUSPECT and _FORMULA.match(text) else text


def _read_back(text: str) -> str:
    return text[1:] if text.startswith("'") and _FORMULA.match(text[1:]) else text
