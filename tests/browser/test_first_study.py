"""A first study, from an empty folder to run sheets, by somebody who opens no file and knows no format."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from planner.schedule.in_force import in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

pytestmark = pytest.mark.browser


@pytest.fixture
def empty_app(tmp_path: Path, serving) -> Iterator[object]:
    """The app on a folder that holds nothing yet."""
    folder = tmp_path / "our-study"
    folder.mkdir()
    with serving(folder, tmp_path / "app.log") as app:
        yield app


def show(page: Page, name: str) -> None:
    view = page.get_by_role("radio", name=name, exact=True)
    view.click()
    expect(view).to_be_checked()
    rested(page)


def rested(page: Page) -> None:
    """Wait until the server has answered and rests: until then a fold may be drawn anew, and closed."""
    page.evaluate("settled()")


def fill(page: Page, label: str, text: str) -> None:
    box = page.get_by_label(label, exact=True).first
    box.fill(text)
    box.press("Enter")
    rested(page)
    expect(box).to_have_value(text)


def paste(page: Page, columns: str | re.Pattern[str], *rows: str) -> None:
    """Rows as a spreadsheet copies them, into the table with those columns."""
    name = f"Rows to add, with the columns {columns}" if isinstance(columns, str) else columns
    box = page.get_by_label(name, exact=True)
    for shut in page.get_by_test_id("stExpander").filter(has_text="Paste rows").all():
        if not box.is_visible():
            shut.locator("summary").click()
            rested(page)
    held = page.get_by_test_id("stExpander").filter(has=box)
    box.fill("\n".join(rows))
    box.press("Control+Enter")
    held.get_by_role("button", name="Add these rows", exact=True).click()
    rested(page)
    expect(box).to_have_value("")


def begin(page: Page) -> None:
    expect(
        page.get_by_text(re.compile("^The table has no line yet|Still to be filled in")).first
    ).to_be_visible()
    page.get_by_role("button", name="Begin this table", exact=True).click()
    expect(page.get_by_text("Paste rows from a spreadsheet").first).to_be_visible()


def go(page: Page, name: str, title: str) -> None:
    page.get_by_role("link", name=name, exact=True).first.click()
    expect(page.get_by_role("heading", name=title)).to_be_visible()


def filled_in(page: Page) -> None:
    """The Study page, first things first; then a protocol from one that came with the program."""
    page.get_by_role("button", name="Begin a study").click()
    expect(page.get_by_label("Short name", exact=True)).to_have_value("our-study")
    for label, text in (
        ("Time zone", "Europe/Oslo"), ("First day", "2027-05-03"), ("Last day", "2027-05-14"),
    ):  # fmt: skip
        fill(page, label, text)
    paste(page, "Days, Open", "mon-fri\t08:00-16:00")
    show(page, "Devices")
    paste(page, "Class, Devices", "spirometer\tS1", "mouth-pressure meter\tM1", "nasal-pressure meter\tN1")
    show(page, "Staff")
    begin(page)
    paste(page, "person, roles", "A1\toperator", "A2\toperator;cheek support")
    show(page, "Shifts")
    begin(page)
    paste(
        page, "person, days, from, to, breaks", *(f"A{n}\tmon-fri\t08:00\t16:00\t12:00-12:30" for n in (1, 2))
    )
    show(page, "Participants")
    begin(page)
    paste(page, "participant, group, replaces", "P01", "P02", "P03")
    go(page, "Protocol", "What happens in a visit?")
    page.get_by_role("combobox", name="Start from").click()
    page.get_by_role("option", name="mouth-pressures").click()
    fill(page, "Short name of the new protocol", "pressures")
    page.get_by_role("button", name="Start a new protocol").click()
    expect(page.get_by_text("The picture in words")).to_be_visible()


def test_a_first_study_needs_no_file_and_no_help(empty_app, station, picture):
    page = station(empty_app.page("schedule"), width=1280, height=1000)
    expect(page.get_by_text("There is no study here yet.")).to_be_visible()
    page.get_by_role("link", name="Go to the Study page").click()
    expect(page.get_by_role("heading", name="Who comes, and with what?")).to_be_visible()
    filled_in(page)
    go(page, "Study", "Who comes, and with what?")
    show(page, "Visits")
    page.reload()  # nothing that was typed is lost
    show(page, "Visits")
    paste(page, re.compile("^Rows to add, with the columns Visit, Protocol"), "first\tpressures.yaml")
    expect(page.get_by_text("3 participants, 3 visits asked for")).to_be_visible()
    expect(page.get_by_test_id("stAlert")).to_have_count(0)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_text("Everything is saved.")).to_be_visible()
    picture(page, "first-study")
    assert len(read_study(empty_app.study).participants) == 3
    go(page, "Schedule", "Who is where, when?")
    page.get_by_role("button", name="Make the schedule", exact=True).click()
    page.get_by_role("button", name="Put this plan in force").click(timeout=90_000)
    expect(page.get_by_text("Plan 1 is in force")).to_be_visible()
    plan = read_plan(in_force(empty_app.study), read_study(empty_app.study))
    assert plan.placed == 3
    go(page, "Documents", "What do people hold in their hands?")
    expect(page.get_by_role("img", name=re.compile("^Run sheets: .*page 1"))).to_be_visible()
    picture(page, "first-study-run-sheet")
