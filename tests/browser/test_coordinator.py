"""A coordinator builds a protocol by form, mends a contradiction by a suggestion, and fills in a study."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from planner.files.drafts import Draft
from planner.protocol.read import read_protocol
from planner.study.read import read_study

pytestmark = pytest.mark.browser
FRAMEWORK = {"list", "listitem"}  # axe rules that the framework's own navigation breaks
PROTOCOL_VIEWS = ("Parts", "Manoeuvres", "Windows", "Chances", "Text", "Compare", "New")
STUDY_VIEWS = ("Days and rules", "Devices", "Shifts", "Availability", "Visits", "On site", "Text")


def show(page: Page, name: str) -> None:
    page.get_by_role("radio", name=name, exact=True).click()
    expect(page.get_by_role("radio", name=name, exact=True)).to_be_checked()
    settled(page)


def settled(page: Page) -> None:
    """Wait until the server has answered and the page is drawn to its end."""
    page.evaluate("settled()")


def fill(page: Page, label: str, text: str) -> None:
    box = page.get_by_label(label, exact=True).first
    box.fill(text)
    box.press("Enter")
    settled(page)
    expect(box).to_have_value(text)


def press(page: Page, name: str) -> None:
    button = page.get_by_role("button", name=name, exact=True).first
    expect(button).to_be_enabled()
    button.click()
    settled(page)


def save(page: Page) -> None:
    """Save, and wait until it is done: until then the file is the old one."""
    press(page, "Save")
    expect(page.get_by_text("Everything is saved.")).to_be_visible()


def pick(page: Page, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label).click()
    page.get_by_role("option", name=option).first.click()
    settled(page)


def violations(page: Page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {one['nodes'][0]['target']}"
        for one in found
        if one["impact"] in ("serious", "critical") and one["id"] not in FRAMEWORK
    ]


def test_a_protocol_is_built_by_form_and_a_contradiction_mended(small_app, station, picture):
    page = station(small_app.url, width=1280)
    show(page, "New")
    fill(page, "Short name of the new protocol", "ours")
    press(page, "Start a new protocol")
    show(page, "Manoeuvres")
    press(page, "Add a manoeuvre")
    expect(page.get_by_label("Short name", exact=True).first).to_have_value("new-1")
    fill(page, "Short name", "fvc")
    for label, text in (("Device", "spirometer"), ("Staff", "operator"), ("Getting ready", "60 s")):
        fill(page, label, text)
    show(page, "Parts")
    for number, title, takes in ((2, "Rowing", "10 min"), (3, "After rowing", "")):
        press(page, "Add a part of the visit")
        expect(page.get_by_label("Short name", exact=True).last).to_have_value(f"part-{number}")
        titles = page.get_by_label("Title", exact=True)
        titles.last.fill(title)
        titles.last.press("Enter")
        settled(page)
        fill(page, "Takes", takes)
        if title == "Rowing":
            page.get_by_text("Exercise", exact=True).first.click()
            settled(page)
    fill(page, "Measure", "fvc")
    fill(page, "After the end of", "part-2")
    fill(page, "Times", "30 s")
    fill(page, "Not later than by", "10 s")
    expect(page.get_by_text(re.compile("Mistake in line")).first).to_be_visible()
    picture(page, "protocol-contradiction")
    show(page, "Chances")
    page.get_by_text("Look for changes that would reach it").click()
    press(page, "Make this change")
    expect(page.get_by_text(re.compile("Mistake in line"))).to_have_count(0)
    picture(page, "protocol-mended")
    save(page)
    protocol = read_protocol(small_app.study / "ours.yaml")
    assert [step.title for step in protocol.visit[-2:]] == ["Rowing", "After rowing"]
    assert protocol.visit[-2].exercise
    assert protocol.visit[-1].due is not None


def test_what_was_typed_outlives_a_closed_tab_and_can_be_taken_back(small_app, station):
    page = station(small_app.url, width=1280)
    pick(page, "Protocol", "rowing")
    fill(page, "Takes", "5:00")
    page.close()
    page = station(small_app.url, width=1280)
    pick(page, "Protocol", "rowing")
    expect(page.get_by_label("Takes", exact=True)).to_have_value("5:00")
    expect(page.get_by_text("Not saved yet: rowing.yaml")).to_be_visible()
    press(page, "Undo")
    expect(page.get_by_label("Takes", exact=True)).to_have_value("5 min")


def test_cells_are_typed_by_keyboard_and_the_cursor_stays(small_app, station, picture):
    page = station(small_app.page("study"), width=1280)
    show(page, "Participants")
    page.get_by_label("group, row 1", exact=True).focus()
    for word in ("first", "second"):
        page.keyboard.type(word, delay=40)
        page.keyboard.press("Enter")
        settled(page)
        while word not in Draft(small_app.study, small_app.study / "participants.csv").text:
            page.wait_for_timeout(50)  # a loaded server takes it later than the page comes to rest
    picture(page, "study-participants")
    save(page)
    text = (small_app.study / "participants.csv").read_text("utf-8")
    assert [line.split(",")[1] for line in text.splitlines()] == ["group", "first", "second"]
    assert read_study(small_app.study).groups == {"ROW-01": "first", "ROW-02": "second"}


def test_a_dropped_file_is_previewed_before_it_replaces_a_table(small_app, station, tmp_path: Path):
    page = station(small_app.page("study"), width=1280)
    show(page, "Participants")
    page.get_by_text("Replace this table by a file").click()
    file = tmp_path / "people.csv"
    file.write_text("participant;group\nROW-01;a\nROW-02;b\nROW-03;a\n", "utf-8")
    page.locator('input[type="file"]').set_input_files(str(file))
    expect(page.get_by_text("3 rows, as they will stand in participants.csv:")).to_be_visible()
    assert "ROW-03" not in (small_app.study / "participants.csv").read_text("utf-8")
    press(page, "Put these rows in the place of participants.csv")
    save(page)
    assert read_study(small_app.study).participants == ("ROW-01", "ROW-02", "ROW-03")


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [1280, 768])
def test_both_pages_can_be_used_by_everybody(demo_app, station, picture, width: int, dark: bool):
    look = f"{width}-{'dark' if dark else 'light'}"
    for name, address, views in (
        ("protocol", demo_app.url, PROTOCOL_VIEWS),
        ("study", demo_app.page("study"), STUDY_VIEWS),
    ):
        page = station(address, width=width, height=1400, dark=dark)
        for view in views:
            show(page, view)
            picture(page, f"{name}-{view.lower().replace(' ', '-')}-{look}")
            assert violations(page) == [], (name, view)
            wide = page.evaluate("document.documentElement.scrollWidth")
            assert wide <= width, f"{name}, {view}: the page is {wide} px wide"
