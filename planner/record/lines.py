"""One line of an efforts file as values, and lines gathered to efforts and marks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Literal, NamedTuple, cast

from planner.record.effort import Effort, Happened, Mark, Value, VisitKey

REHEARSED = "rehearsed"
MOST_NOTE = 2000
MARKS = ("start", "end", "stopped")


class EffortKey(NamedTuple):
    """Which effort; for a task or bout `manoeuvre` and `effort` are None."""

    participant: str
    visit: str
    number: int | None
    step: str
    at_s: int | None
    manoeuvre: str | None
    effort: int | None


class LineKey(NamedTuple):
    """What makes a line the same line; `reading` is "" for an effort without one."""

    of: EffortKey
    reading: str


@dataclass(frozen=True, slots=True)
class Line:
    """One reading of an effort, an effort without a reading, or a mark (`manoeuvre` and `effort` None).

    `row` counts lines of its file, from 1 after the head (0: from no file); `cells` are as written.
    """

    key: VisitKey
    step: str
    at_s: int | None
    manoeuvre: str | None
    effort: int | None
    reading: str
    started: datetime
    value: Decimal | None = None
    unit: str = ""
    acceptable: bool = True
    note: str = ""
    row: int = 0
    cells: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)
    by_device: datetime | None = field(
        default=None, compare=False
    )  # `started` by a device whose clock was off
    rig: str | None = None  # devices, joined by a semicolon

    @property
    def line_key(self) -> LineKey:
        """What makes it the same line as another."""
        key = self.key
        of = EffortKey(
            key.participant, key.visit, key.number, self.step, self.at_s, self.manoeuvre, self.effort
        )
        return LineKey(of, self.reading)

    @property
    def is_mark(self) -> bool:
        """Whether it is the start or end of a task or bout, or `stopped`."""
        return self.manoeuvre is None

    @property
    def is_rehearsed(self) -> bool:
        """Whether its note says that the numbers are made up."""
        return is_rehearsed(self.note)


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row that was not taken, and why; `cells` as written."""

    row: int
    message: str
    cells: Mapping[str, str] = field(default_factory=dict, compare=False, repr=False)


def plain_text(text: str) -> str:
    """Typed text without control characters and outer spaces: what a file can hold and give back."""
    return "".join(letter if letter.isprintable() else " " for letter in text).strip()[:MOST_NOTE]


def is_rehearsed(note: str) -> bool:
    """Whether a note is `rehearsed`, or that before a semicolon and more."""
    return note.partition(";")[0].strip().casefold() == REHEARSED


def gather(lines: Iterable[Line], *, rehearsed: bool) -> Happened:
    """The lines as efforts and marks, in order of time; lines of one effort become its values."""
    efforts: dict[EffortKey, list[Line]] = {}
    marks: list[Mark] = []
    for line in lines:
        if line.is_mark:
            marks.append(_mark(line))
        else:
            efforts.setdefault(line.line_key.of, []).append(line)
    made = sorted((_effort(group) for group in efforts.values()), key=_effort_time)
    marks.sort(key=lambda mark: mark.at.timestamp())
    return Happened(tuple(made), tuple(marks), rehearsed)


def _effort_time(effort: Effort) -> tuple[float, int]:
    return effort.started.timestamp(), effort.number


def _mark(line: Line) -> Mark:
    what = cast(Literal["start", "end", "stopped"], line.reading)
    return Mark(line.key, line.step, line.at_s, what, line.started, line.note, line.rig)


def _effort(group: list[Line]) -> Effort:
    first = group[0]
    assert first.manoeuvre is not None
    assert first.effort is not None
    values = tuple(
        Value(line.reading, line.value, line.unit, line.acceptable)
        for line in group
        if line.reading and line.value is not None
    )
    notes = "; ".join(dict.fromkeys(line.note for line in group if line.note))
    rig = next((line.rig for line in group if line.rig), None)
    return Effort(
        first.key, first.step, first.at_s, first.manoeuvre, first.effort, first.started, values, notes, rig
    )


def lines_of(happened: Happened) -> tuple[Line, ...]:
    """Efforts and marks as lines, in order of time: the way back from `gather`."""
    lines = [line for effort in happened.efforts for line in _effort_lines(effort)]
    lines += [
        Line(mark.key, mark.step, mark.at_s, None, None, mark.what, mark.at, note=mark.note, rig=mark.rig)
        for mark in happened.marks
    ]
    return tuple(sorted(lines, key=lambda line: line.started.timestamp()))


def _effort_lines(effort: Effort) -> Iterable[Line]:
    bare = Line(
        effort.key, effort.step, effort.at_s, effort.manoeuvre, effort.number, "", effort.started,
        note=effort.note, rig=effort.rig,
    )  # fmt: skip
    if not effort.values:
        yield bare
    for one in effort.values:
        yield replace(bare, reading=one.reading, value=one.value, unit=one.unit, acceptable=one.acceptable)
