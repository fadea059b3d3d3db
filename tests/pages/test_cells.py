"""What the browser tells of a table, and what that changes in its rows."""

from __future__ import annotations

from typing import Any

import pytest

from planner.pages.cells import Cells, Column, edits, told

COLUMNS = (Column("person"), Column("leads", flag=True))
BEFORE: list[Cells] = [["A1", False], ["A2", False], ["A3", True]]


def said(*rows: Any) -> dict[str, Any]:
    return {"turn": "a", "number": 3, "rows": list(rows)}


def test_rows_that_are_told_are_read():
    found = told(said([0, ["A1", True]], [None, ["A4", False]]), COLUMNS, 3)
    assert found is not None
    assert (found.turn, found.number) == ("a", 3)
    assert found.rows == ((0, ["A1", True]), (None, ["A4", False]))


@pytest.mark.parametrize(
    "message",
    [
        None,
        "x",
        {"turn": "a", "rows": []},
        said([0, ["A1"]]),
        said([0, ["A1", "yes"]]),
        said([0, [1, True]]),
        said([3, ["A1", True]]),
        said([-1, ["A1", True]]),
        said([True, ["A1", True]]),
        said("A1"),
    ],
)
def test_what_fits_no_row_is_not_taken(message: Any):
    assert told(message, COLUMNS, 3) is None


def test_changed_new_and_missing_rows_are_told_apart():
    rows: list[tuple[int | None, Cells]] = [(0, ["A1", True]), (2, ["A3", True]), (None, ["A4", False])]
    assert edits(BEFORE, rows, COLUMNS) == {
        "edited_rows": {0: {"leads": True}},
        "added_rows": [{"person": "A4", "leads": False}],
        "deleted_rows": [1],
    }


def test_the_same_rows_change_nothing():
    assert edits(BEFORE, list(enumerate(BEFORE)), COLUMNS) == {
        "edited_rows": {},
        "added_rows": [],
        "deleted_rows": [],
    }
