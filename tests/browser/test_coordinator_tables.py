"""Nothing that is typed into a table is lost, however fast, and whatever the page does meanwhile."""

from __future__ import annotations

import re
import time
from collections.abc import Callable

import pytest
from playwright.sync_api import Locator, Page, expect

from planner.files.drafts import Draft
from planner.study.sheets import sheet_of

pytestmark = pytest.mark.browser
MANY = 14
PASTE = """(field, text) => {
  const what = new DataTransfer();
  what.setData("text", text);
  field.dispatchEvent(new ClipboardEvent("paste", { clipboardData: what, bubbles: true, cancelable: true }));
}"""


def show(page: Page, name: str) -> None:
    view = page.get_by_role("radio", name=name, exact=True)
    view.click()
    expect(view).to_be_checked()
    page.evaluate("settled()")


def cell(page: Page, column: str, row: int) -> Locator:
    return page.get_by_label(f"{column}, row {row}", exact=True)


def until(what: Callable[[], object], expected: object) -> None:
    """Wait for what is kept on disk: a busy server takes a cell later than it is typed."""
    end = time.monotonic() + 60
    while what() != expected and time.monotonic() < end:
        time.sleep(0.1)
    assert what() == expected


def type_rows(page: Page, rows: list[list[str]]) -> None:
    """As somebody types who does not wait: each cell, then the tab key."""
    for row in rows:
        for words in row:
            page.keyboard.type(words)
            page.wait_for_timeout(100)
            page.keyboard.press("Tab")


def paste(field: Locator, text: str) -> None:
    field.evaluate(PASTE, text)


def test_rows_typed_without_waiting_are_all_kept(small_app, station):
    page = station(small_app.page("study"), width=1280)
    show(page, "Participants")
    draft = Draft(small_app.study, small_app.study / "participants.csv")
    rows = [[f"P{n:02}", f"g{n}", ""] for n in range(MANY)]
    cell(page, "participant", 3).focus()
    type_rows(page, rows)
    until(lambda: [list(row) for row in sheet_of(draft.text).rows[2:]], [row[:2] for row in rows])
    page.reload()
    show(page, "Participants")
    expect(cell(page, "participant", 2 + MANY)).to_have_value(f"P{MANY - 1:02}")


def test_rows_typed_into_a_table_behind_a_fold_are_all_kept(small_app, station):
    page = station(small_app.url, width=1280)
    show(page, "Manoeuvres")
    page.get_by_text("Readings, and when to finish").click()
    cell(page, "Usual difference between efforts", 1).wait_for()
    cell(page, "Short name", 1).first.focus()
    type_rows(page, [[f"R{n:02}", "L", f"{n}.5 L", ""] for n in range(6)])
    draft = Draft(small_app.study, small_app.study / "practice.yaml")
    wanted = [(f"R{n:02}", f"{n}.5 L") for n in range(6)]
    until(lambda: re.findall(r"(R\d\d): \{unit: L, typical: ([^},]+)", draft.text), wanted)


def test_pasting_undoing_and_taking_rows_away_lose_nothing_else(small_app, station, picture):
    page = station(small_app.page("study"), width=1280)
    show(page, "Participants")
    draft = Draft(small_app.study, small_app.study / "participants.csv")

    def people() -> list[str]:
        return [row[0] for row in sheet_of(draft.text).rows]

    codes = [f"P{n:02}" for n in range(MANY)]
    paste(cell(page, "participant", 3), "Participant\tGroup\n" + "\n".join(f"{one}\ta" for one in codes))
    until(people, ["ROW-01", "ROW-02", *codes])
    expect(cell(page, "group", 2 + MANY)).to_have_value("a")
    page.get_by_role("button", name="Undo", exact=True).click()
    until(people, ["ROW-01", "ROW-02"])
    expect(cell(page, "participant", 3)).to_have_value("")
    cell(page, "participant", 3).focus()
    page.keyboard.type("P77x")
    page.keyboard.press("Backspace")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Control+Delete")
    page.keyboard.press("Enter")
    page.keyboard.press("End")
    page.keyboard.type("b")
    page.keyboard.press("Enter")
    until(people, ["ROW-02", "P77b"])
    picture(page, "study-table-typed")
    page.reload()
    show(page, "Participants")
    expect(cell(page, "participant", 2)).to_have_value("P77b")


def test_a_change_by_another_table_of_the_file_takes_nothing_away(small_app, station):
    page = station(small_app.page("study"), width=1280)
    show(page, "Devices")
    draft = Draft(small_app.study, small_app.study / "study.yaml")
    field = cell(page, "Class", 4)
    field.focus()
    page.keyboard.type("treadmill")
    page.keyboard.press("Tab")
    page.keyboard.type("T1")
    cell(page, "Class", 2).last.focus()  # of the other table, before the page has answered
    page.keyboard.type("treadmill")
    page.keyboard.press("Tab")
    page.keyboard.type("5 min")
    page.keyboard.press("Tab")
    until(lambda: "treadmill: T1" in draft.text or "treadmill: [T1]" in draft.text, True)
    until(lambda: len(re.findall(r"treadmill: \{?.*5 min", draft.text)), 1)
