"""Visits fixed and days left out, written into the texts of a study's own files; all else there stays."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date

from planner.faults import Faults
from planner.files.edit import with_value
from planner.files.tree import Node, yaml_tree
from planner.study.wishes import COLUMNS

TABLE = "fixed.csv"
HEADER = ",".join(("participant", *COLUMNS)) + "\n"


def with_fixed(text: str, row: Mapping[str, str]) -> str:
    """The table with that row last; an earlier row of the same visit and participant gives way to it."""
    columns, rows = _read(text or HEADER)
    columns += [name for name in ("participant", *COLUMNS) if name not in columns]
    return _written(columns, [*(one for one in rows if _whose(one) != _whose(row)), row])


def without_fixed(text: str, participant: str, visit: str | None) -> str:
    """The table without the rows of that visit; None: without those for all visits of the participant."""
    columns, rows = _read(text)
    return _written(columns, [row for row in rows if _whose(row) != (participant, visit or "")])


def names_table(study_text: str, table: str = TABLE) -> str:
    """study.yaml naming that table of fixed visits, if it names none yet. Raises CannotEdit."""
    return study_text if named_table(study_text) else with_value(study_text, ("fixed",), table)


def named_table(study_text: str) -> str | None:
    """The table of fixed visits that study.yaml names, or None."""
    value = _value(study_text, "fixed")
    return value if isinstance(value, str) else None


def with_closed(study_text: str, day: date) -> str:
    """study.yaml with that day left out. Raises CannotEdit."""
    written = _value(study_text, "days", "closed")
    closed = list(written) if isinstance(written, list) else [written] if written else []
    if day.isoformat() in closed:
        return study_text
    return with_value(study_text, ("days", "closed"), [*closed, day.isoformat()])


def _value(text: str, *path: str) -> Node:
    tree = yaml_tree(text, "study.yaml", Faults())
    value: Node = tree.value if tree else None
    for part in path:
        value = value.get(part) if isinstance(value, dict) else None
    return value


def _whose(row: Mapping[str, str]) -> tuple[str, str]:
    return row.get("participant", "").strip(), row.get("visit", "").strip()


def _read(text: str) -> tuple[list[str], list[dict[str, str]]]:
    reader = csv.DictReader(io.StringIO(text.removeprefix("\ufeff")), restval="")
    rows = [{name: cell for name, cell in row.items() if name is not None} for row in reader]
    return [name.strip() for name in reader.fieldnames or ()], rows


def _written(columns: Iterable[str], rows: Iterable[Mapping[str, str]]) -> str:
    out = io.StringIO()
    names = list(columns)
    writer = csv.DictWriter(out, names, restval="", lineterminator="\n", extrasaction="ignore")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()
