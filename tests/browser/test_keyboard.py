"""A study changed by keys alone: into a table and out of it, rows pasted below it, and everything saved."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect

pytestmark = pytest.mark.browser
MOST_STOPS = 60
IS_HERE = "one => one === one.getRootNode().activeElement"  # a table has a root of its own
# what has the keys now: its own name, or the words that stand in it
HERE = """() => {
  let here = document.activeElement;
  while (here.shadowRoot?.activeElement) here = here.shadowRoot.activeElement;
  return (here.getAttribute("aria-label") || here.innerText || here.tagName).slice(0, 60);
}"""


def come_to(page: Page, control: Locator, key: str = "Tab", most: int = MOST_STOPS) -> None:
    """Press the key until the control is the one that keys go to."""
    expect(control).to_be_attached()
    passed = []
    for _ in range(most):
        page.keyboard.press(key)
        if control.evaluate(IS_HERE):
            return
        passed.append(page.evaluate(HERE))
    raise AssertionError(f"{most} times {key} do not come to it, but to {passed}")


def choose(page: Page, first: str, name: str) -> None:
    """Come to a row of choices by the tab key, and to one of them by arrows."""
    come_to(page, page.get_by_role("radio", name=first, exact=True))
    wanted = page.get_by_role("radio", name=name, exact=True)
    for _ in range(MOST_STOPS):
        if wanted.evaluate(IS_HERE):
            break
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Space")
    expect(wanted).to_be_checked()
    page.evaluate("settled()")


def test_participants_are_typed_pasted_and_saved_by_keys_alone(small_app, station):
    page = station(small_app.page("study"), width=1280)
    page.evaluate("settled()")
    choose(page, "Days and rules", "Participants")
    come_to(page, page.get_by_label("participant, row 1", exact=True))
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")  # the empty row below the two that are there
    page.keyboard.type("ROW-03")
    page.keyboard.press("Enter")
    page.keyboard.type("ROW-04")
    page.keyboard.press("Escape")
    page.evaluate("settled()")
    come_to(page, page.locator("summary", has_text="Paste rows from a spreadsheet"), most=1)
    page.keyboard.press("Enter")
    come_to(page, page.get_by_role("textbox", name="Rows to add"))
    page.keyboard.type("ROW-05")
    come_to(page, page.get_by_role("button", name="Add these rows"))
    page.keyboard.press("Enter")
    expect(page.get_by_label("participant, row 5", exact=True)).to_have_value("ROW-05")
    page.evaluate("settled()")
    come_to(page, page.get_by_role("button", name="Save", exact=True), "Shift+Tab")
    page.keyboard.press("Enter")
    expect(page.get_by_text("Everything is saved.")).to_be_visible()
    kept = (small_app.study / "participants.csv").read_text("utf-8").split()
    assert kept == ["participant", "ROW-01", "ROW-02", "ROW-03", "ROW-04", "ROW-05"]
