"""A study changed by keys alone: into a table and out of it, rows pasted below it, and everything saved."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser
MOST_CHOICES = 20
IS_HERE = "one => one === document.activeElement"


def choose(page: Page, come_to: Callable[..., None], first: str, name: str) -> None:
    """Come to a row of choices by the tab key, and to one of them by arrows."""
    come_to(page, page.get_by_role("radio", name=first, exact=True))
    wanted = page.get_by_role("radio", name=name, exact=True)
    for _ in range(MOST_CHOICES):
        if wanted.evaluate(IS_HERE):
            break
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Space")
    expect(wanted).to_be_checked()
    page.evaluate("settled()")


def test_participants_are_typed_pasted_and_saved_by_keys_alone(small_app, station, come_to):
    page = station(small_app.page("study"), width=1280)
    page.evaluate("settled()")
    choose(page, come_to, "Days and rules", "Participants")
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
