"""The deviation log for the study file: a row a deviation; reasons written into it stay."""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from planner.adherence.deviation import place_words
from planner.adherence.model import Adherence, Deviation
from planner.record.efforts_file import safe

COLUMNS = (
    "when",
    "participant",
    "visit",
    "where",
    "effort",
    "what",
    "size",
    "unit",
    "important",
    "words",
    "note",
    "reason",
    "who",
)
_KEY = ("participant", "visit", "where", "effort", "what")


class Explained(NamedTuple):
    """Why a deviation came about, and the code of who says so."""

    reason: str
    who: str


Key = tuple[str, ...]


def log_rows(found: Adherence, explained: Mapping[Key, Explained] | None = None) -> list[dict[str, str]]:
    """The rows as text, by participant, visit and time; `important` first among those of one moment.

    `reason` and `who` come from `explained` (see `read_explained`), else they are left to be written.
    """
    known = explained or {}
    rows = [_row(found, deviation) for deviation in found.deviations]
    for row in rows:
        row.update(known.get(key_of(row), Explained("", ""))._asdict())
    return rows


def key_of(row: Mapping[str, str]) -> Key:
    """What tells a deviation from every other: participant, visit, place, effort, kind."""
    return tuple(row[column] for column in _KEY)


def _row(found: Adherence, deviation: Deviation) -> dict[str, str]:
    number = deviation.key.number
    visit = deviation.key.visit if number is None else f"{deviation.key.visit}/{number}"
    where = place_words(deviation.step, deviation.at_s, deviation.manoeuvre) if deviation.step else ""
    return {
        "when": deviation.when.isoformat(timespec="seconds") if deviation.when else "",
        "participant": deviation.key.participant,
        "visit": visit,
        "where": where,
        "effort": "" if deviation.effort is None else str(deviation.effort),
        "what": deviation.kind,
        "size": "" if deviation.size is None else str(deviation.size),
        "unit": deviation.unit,
        "important": "important" if deviation.important else "",
        "words": deviation.words,
        "note": deviation.note,
        "reason": "",
        "who": "",
    }


def write_log(found: Adherence, path: Path) -> int:
    """Write the log as CSV, whole or not at all; reasons already written in it stay. How many rows.

    What a spreadsheet would take for a formula gets a leading apostrophe. Rows whose deviation is no
    longer found (because the record was corrected) stay at the end if somebody gave a reason.
    """
    before = list(_read(path)) if path.exists() else []
    explained = {
        key_of(row): Explained(row["reason"], row["who"]) for row in before if row["reason"] or row["who"]
    }
    rows = log_rows(found, explained)
    seen = {key_of(row) for row in rows}
    rows += [
        {**row, "words": _gone(row["words"])}
        for row in before
        if key_of(row) in explained and key_of(row) not in seen
    ]
    _write(path, rows)
    return len(rows)


def _gone(words: str) -> str:
    mark = "no longer found: "
    return words if words.startswith(mark) else mark + words


def read_explained(path: Path) -> dict[Key, Explained]:
    """The reasons that people wrote into a log, by deviation; none where there is no such file."""
    if not path.exists():
        return {}
    return {
        key_of(row): Explained(row["reason"], row["who"])
        for row in _read(path)
        if row["reason"] or row["who"]
    }


def _read(path: Path) -> Iterator[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        for row in csv.DictReader(file):
            yield {column: _unguarded(row.get(column) or "") for column in COLUMNS}


def _write(path: Path, rows: list[dict[str, str]]) -> None:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.name, suffix=".part")
    with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS)
        writer.writeheader()
        writer.writerows(
            {column: value if column == "size" else safe(value) for column, value in row.items()}
            for row in rows
        )
        file.flush()
        os.fsync(file.fileno())
    os.replace(name, path)


def _unguarded(text: str) -> str:
    return text[1:] if text.startswith("'") and safe(text[1:]) == text else text
