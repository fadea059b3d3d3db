"""What is typed into a table goes into the draft in the order in which it was typed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from threading import Lock, Thread
from typing import Any

import pytest

from planner.files.drafts import Draft
from planner.pages import grid
from planner.pages.cells import Column

COLUMNS = (Column("participant"),)


class Table:
    """A table of one column in a session of its own, as the browser tells of it."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        file = folder / "participants.csv"
        file.write_text("", encoding="utf-8")
        self.draft, self.meanwhile = Draft(folder, file), []
        grid_state: dict[str, Any] = {
            "turn": "a",
            "base": "",
            "made": "",
            "rows": [],
            "heard": 0,
            "taken": 0,
            "now": [],
        }
        grid_state["one at a time"] = Lock()
        self.state: dict[str, Any] = {"grid": grid_state, "cells": {}}
        monkeypatch.setattr(grid.st, "session_state", self.state)
        monkeypatch.setenv("TESTDAY_STUDY", str(folder))  # where it is asked who may edit

    def tell(self, number: int, *names: str) -> None:
        """The browser tells all rows."""
        rows = [[None, [name]] for name in names]
        self.state["cells"] = {"typed": {"turn": "a", "number": number, "rows": rows}}
        grid._take("grid", "cells", self.draft, self._apply, COLUMNS)

    def _apply(self, text: str, edits: Mapping[str, Any]) -> str:
        if self.meanwhile:
            self.meanwhile.pop()()
        return text + "".join(f"{row['participant']}\n" for row in edits["added_rows"])


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Table:
    return Table(tmp_path, monkeypatch)


def test_what_is_told_later_is_kept(table: Table):
    table.tell(1, "P01")
    table.tell(2, "P01", "P02")
    assert table.draft.text == "P01\nP02\n"


def test_a_newer_telling_waits_for_the_older_one_and_has_the_last_word(table: Table):
    """The framework begins with the next telling while the one before is still being put into its text."""
    newer = Thread(target=table.tell, args=(2, "P01", "P02"))

    def begin() -> None:
        newer.start()
        while table.state["grid"]["heard"] < 2:
            newer.join(0.01)

    table.meanwhile.append(begin)
    table.tell(1, "P01")
    newer.join(10)
    assert table.draft.text == "P01\nP02\n"
    assert table.state["grid"]["made"] == "P01\nP02\n"


def test_who_was_overtaken_while_waiting_has_nothing_to_do(table: Table):
    """So a slow machine does not put every letter into the text by itself."""
    put_in: list[str] = []
    several = [Thread(target=table.tell, args=(n, *(f"P{m:02}" for m in range(n)))) for n in range(2, 9)]

    def begin() -> None:
        for n, one in enumerate(several, start=2):
            one.start()
            while table.state["grid"]["heard"] < n:
                one.join(0.01)

    table.meanwhile += [lambda: put_in.append("last"), begin]
    table.tell(1, "P00")
    for one in several:
        one.join(10)
    assert put_in == ["last"]
    assert table.draft.text.split() == [f"P{m:02}" for m in range(8)]
    assert len(table.draft.earlier()) == 2


def test_an_older_telling_that_comes_late_is_left_out(table: Table):
    table.tell(2, "P01", "P02")
    table.tell(1, "P01")
    assert table.draft.text == "P01\nP02\n"
    assert table.state["grid"]["taken"] == 2


def test_a_change_from_elsewhere_is_not_taken_back_and_what_was_typed_meanwhile_is_asked_for_again(
    table: Table,
):
    """Two tables of one file: the browser tells again whatever the page has not taken."""
    table.meanwhile.append(lambda: table.draft.change("P09\n"))
    table.tell(1, "P01")
    assert table.draft.text == "P09\n"
    assert table.state["grid"]["taken"] == 0
