"""A table of fields that the browser keeps: what is typed is never taken away by a page drawn meanwhile.

The framework's own table lost cells: a new row of it is opened a moment after the key that asks for it, and
whatever is typed in that moment went into a cell that was open already. Here every cell is a field from the
start, below all rows stands an empty one, and what is typed goes to the page whole, as all rows.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import streamlit as st

HERE = Path(__file__).parent
Cells = list[str | bool]  # one row, in the order of the columns
Row = tuple[int | None, Cells]  # the number of the row that it was when the table was begun; None: a new one

_KEYS = "Enter goes to the row below, Escape out of the table"
_FREE_KEYS = f"{_KEYS}; Ctrl and Delete take the row away."
_HTML = """<div class="cells"><div class="scroll"><table><thead></thead><tbody></tbody></table></div>
<p class="keys" tabindex="-1">{words}</p></div>"""
_CSS, _JS = ((HERE / f"cells.{kind}").read_text("utf-8") for kind in ("css", "js"))
_free, _fixed = (
    st.components.v2.component(f"cells_{name}", html=_HTML.format(words=words), css=_CSS, js=_JS)
    for name, words in (("free", _FREE_KEYS), ("fixed", f"{_KEYS}."))
)


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, what it is for, and what its cells are."""

    name: str
    help: str = ""
    flag: bool = False  # ticked, or not
    lines: bool = False  # of several lines
    locked: bool = False  # to be read only

    @property
    def empty(self) -> str | bool:
        """A cell in which nothing stands."""
        return False if self.flag else ""


@dataclass(frozen=True, slots=True)
class Typed:
    """What the browser told: all rows, typed into those of that `turn`; `number` counts what it told."""

    turn: str
    number: int
    rows: tuple[Row, ...]


def cells(
    key: str,
    columns: Sequence[Column],
    rows: Sequence[Row],
    *,
    turn: str,
    taken: int,
    is_free: bool,
    on_typed: Callable[[], None],
) -> None:
    """Draws the table. Rows are shown anew only where `turn` is another; `taken`: the last that was told."""
    data = {"turn": turn, "taken": taken, "free": is_free, "columns": [asdict(one) for one in columns]}
    data["rows"] = [[start, list(row)] for start, row in rows]
    (_free if is_free else _fixed)(key=key, data=data, on_typed_change=on_typed)


def typed(key: str, columns: Sequence[Column], count: int) -> Typed | None:
    """What was typed into that table of `count` rows; None where the browser told none that fits it."""
    said = st.session_state[key].get("typed")
    return None if said is None else told(said, columns, count)


def told(said: Any, columns: Sequence[Column], count: int) -> Typed | None:
    """That message, where it is one: each row with a cell of the right kind for each column."""
    try:
        rows = tuple((start, list(row)) for start, row in said["rows"])
        turn, number = str(said["turn"]), int(said["number"])
    except (KeyError, TypeError, ValueError):
        return None
    kinds = [bool if one.flag else str for one in columns]
    for start, row in rows:
        if start is not None and not (type(start) is int and 0 <= start < count):
            return None
        if [type(cell) for cell in row] != kinds:
            return None
    return Typed(turn, number, rows)


def edits(before: Sequence[Cells], rows: Sequence[Row], columns: Sequence[Column]) -> dict[str, Any]:
    """What makes those rows of the ones before: cells changed, rows added, rows taken away."""
    names = [one.name for one in columns]
    changed = {}
    for start, row in rows:
        if start is None:
            continue
        if cells_of := {n: new for n, new, old in zip(names, row, before[start], strict=True) if new != old}:
            changed[start] = cells_of
    kept = {start for start, _ in rows}
    return {
        "edited_rows": changed,
        "added_rows": [dict(zip(names, row, strict=True)) for start, row in rows if start is None],
        "deleted_rows": [number for number in range(len(before)) if number not in kept],
    }
