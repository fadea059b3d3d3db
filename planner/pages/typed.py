"""Times and days as people type them, to what the files hold: only where they can mean one thing."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from planner.clock import WEEKDAYS

MOMENTS = ("absences", "outages")  # tables whose times lie on a day of their own
WHEN = ("days", "from", "to", "breaks", "date", "start")  # columns that hold times or days
LISTS = ("roles", "breaks")  # columns of several things in one cell
_DASH = re.compile(r"\s*(?:[-–—]|\bto\b|\bbis\b)\s*")
_TIME = re.compile(r"(?<![\d:T])(\d{1,2}):(\d\d)(?::00)?(?![\d:])")
_DATE = re.compile(r"(?<!\d)(\d{4})-(\d{1,2})-(\d{1,2})(?!\d)")
_WEEKDAY = re.compile(rf"\b({'|'.join(WEEKDAYS)})[a-z]*\.?", re.IGNORECASE)
_DAY_ALONE = re.compile(r"\d{4}-\d\d-\d\d")


def as_written(text: str) -> str:
    """That time, range of times, day or weekdays as a file writes it; what is none of them as it is.

    `8:00 – 16:00` is 08:00-16:00, `Monday to Friday` mon-fri, 2027-3-1 2027-03-01. What could be two
    dates, such as 1.3.2027, stays, and is told to be a mistake.
    """
    found = _DATE.sub(lambda one: f"{one[1]}-{int(one[2]):02}-{int(one[3]):02}", text.strip())
    found = _TIME.sub(lambda one: f"{int(one[1]):02}:{one[2]}", found)
    found = _WEEKDAY.sub(lambda one: one[1].lower(), found)
    is_range = bool(re.search(r":\d\d\s*\D+\d\d:", found)) and not _DATE.search(found)
    if found[:3] in WEEKDAYS:
        found = " ".join(_DASH.sub("-", found).replace(",", " ").split())
    return _DASH.sub("-", found) if is_range else found


def tidied(table: str, edits: Mapping[str, Any]) -> dict[str, Any]:
    """What was typed into a table of the study, its times, days and lists as its file writes them."""
    return {
        **edits,
        "edited_rows": {number: _row(table, cells) for number, cells in edits.get("edited_rows", {}).items()},
        "added_rows": [_row(table, row) for row in edits.get("added_rows", ())],
    }


def _row(table: str, cells: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _cell(table, name, value) for name, value in cells.items()}


def _cell(table: str, column: str, value: Any) -> Any:
    if not isinstance(value, str):
        return value
    if column in LISTS:
        value = ";".join(part.strip() for part in re.split("[;,]", value) if part.strip())
    if column not in WHEN:
        return value
    found = ";".join(as_written(part) for part in value.split(";"))
    if table in MOMENTS and _DAY_ALONE.fullmatch(found):  # the whole day, to its last minute
        return f"{found}T00:00" if column == "from" else f"{found}T23:59"
    return found
