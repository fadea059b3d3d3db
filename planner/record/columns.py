"""Columns of another device's table matched by name to those of an efforts file, for a person to confirm."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from pathlib import Path

from planner.faults import Fault, Faults, FaultyInput, Place
from planner.files import read_table
from planner.record.efforts_file import COLUMNS, RIG, EffortsFile, read_row
from planner.record.lines import Line, RefusedRow
from planner.record.rows import Rows
from planner.study.model import Study

_OTHER_NAMES = {
    "participant": ("subject", "id", "code", "patient", "person", "participant id"),
    "visit": ("session", "appointment", "visit id"),
    "step": ("phase", "stage", "part"),
    "at": ("time point", "timepoint", "minute", "due"),
    "manoeuvre": ("maneuver", "test", "measure", "procedure"),
    "effort": ("trial", "attempt", "blow", "repetition", "effort number", "no"),
    "started": ("start", "time", "datetime", "date time", "timestamp", "start time"),
    "reading": ("parameter", "variable", "quantity", "measurement"),
    "value": ("result", "reading value"),
    "unit": ("units",),
    "acceptable": ("accepted", "valid", "quality", "ok"),
    "note": ("comment", "remarks", "remark", "comments"),
    "rig": ("device", "device code"),
}
OURS = (*COLUMNS, RIG)
_LIKE_ENOUGH = 0.8
_SHOWN = 20
_YES, _NO = {"yes", "y", "true", "1", "ok"}, {"no", "n", "false", "0"}


@dataclass(frozen=True, slots=True)
class Mapped:
    """Which column of the table stands for which of ours; `fixed` are values for columns that it lacks."""

    columns: Mapping[str, str]  # ours -> theirs
    fixed: Mapping[str, str] = field(default_factory=dict)

    @property
    def lacking(self) -> tuple[str, ...]:
        """Our needed columns that nothing stands for."""
        needed = ("participant", "visit", "step", "started")
        return tuple(name for name in needed if name not in self.columns and name not in self.fixed)


def propose(head: Sequence[str]) -> Mapped:
    """The likeliest mapping of these column names; each is used once, the surest first."""
    scores = [(_likeness(ours, theirs), ours, theirs) for ours in OURS for theirs in head]
    chosen: dict[str, str] = {}
    for score, ours, theirs in sorted(scores, key=lambda one: (-one[0], OURS.index(one[1]))):
        if score >= _LIKE_ENOUGH and ours not in chosen and theirs not in chosen.values():
            chosen[ours] = theirs
    return Mapped({name: chosen[name] for name in OURS if name in chosen})


def _likeness(ours: str, theirs: str) -> float:
    """1 for the same word, a little less for another word for it, else how alike the letters are."""
    name = _bare(theirs)
    if name == ours:
        return 1.0
    if name in {_bare(other) for other in _OTHER_NAMES[ours]}:
        return 0.95
    return 0.9 * SequenceMatcher(None, ours, name).ratio()


def _bare(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", " ", name.casefold()).strip()


def read_head(path: Path) -> tuple[str, ...]:
    """The column names of the table; FaultyInput where it cannot be read."""
    faults = Faults()
    table = read_table(path, faults, needed=())
    return table.columns if table else _unreadable(path, faults)


def _unreadable(path: Path, faults: Faults) -> tuple[str, ...]:
    faults.raise_if_any()
    raise FaultyInput([Fault(Place(path.name), "unreadable", "the table cannot be read")])


def read_mapped(path: Path, study: Study, mapped: Mapped) -> EffortsFile:
    """The table's rows by that mapping, judged like those of an efforts file."""
    faults = Faults()
    theirs = list(dict.fromkeys(mapped.columns.values()))
    table = read_table(path, faults, needed=theirs)
    unread = [fault for fault in faults.faults if fault.code == "extra-cell"]
    faults.faults = [fault for fault in faults.faults if fault.code != "extra-cell"]
    if table is None or faults.faults:
        _unreadable(path, faults)
    assert table is not None
    rows = Rows(study)
    found: list[Line | RefusedRow] = [
        read_row(rows, row.line - 1, _cells(row.cells, mapped)) for row in table.rows
    ]
    found += [RefusedRow(fault.place.line - 1, f"{fault.message} {fault.hint}".strip()) for fault in unread]
    return EffortsFile(path.name, tuple(sorted(found, key=lambda one: one.row)))


def preview(file: EffortsFile) -> tuple[tuple[int, str], ...]:
    """The first rows as they would be taken: row and what it says, or why it would be refused."""
    return tuple((row.row, _words(row)) for row in file.rows[:_SHOWN])


def _words(row: Line | RefusedRow) -> str:
    if isinstance(row, RefusedRow):
        return f"refused: {row.message}"
    what = f"{row.manoeuvre} effort {row.effort}" if row.manoeuvre else row.reading
    said = f" {row.reading} {row.value} {row.unit}" if row.value is not None else ""
    return f"{row.key.participant} {row.key.visit} {row.step} {what}{said} at {row.started:%Y-%m-%d %H:%M:%S}"


def _cells(theirs: Mapping[str, str], mapped: Mapped) -> dict[str, str]:
    cells = dict.fromkeys(OURS, "") | dict(mapped.fixed)
    cells |= {ours: theirs.get(name, "") for ours, name in mapped.columns.items()}
    accepted = cells["acceptable"].casefold()
    cells["acceptable"] = "yes" if accepted in _YES else "no" if accepted in _NO else cells["acceptable"]
    return cells
