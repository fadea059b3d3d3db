"""The road in a real browser: the coordinator packs, fixes, packs again and prints; the reader exports."""

from __future__ import annotations

import re
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Error, Page, expect

from planner.schedule.in_force import in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

pytestmark = pytest.mark.browser


def settled(page: Page) -> None:
    """Wait until the server has answered and the page is drawn to its end."""
    page.evaluate("settled()")


def press(page: Page, name: str) -> None:
    button = page.get_by_role("button", name=name, exact=True).first
    expect(button).to_be_enabled()
    button.click()
    settled(page)


def go(page: Page, name: str, title: str) -> None:
    """Another page, by its link, as a person goes there."""
    page.get_by_role("link", name=name, exact=True).first.click()
    expect(page.get_by_role("heading", name=title)).to_be_visible()
    settled(page)


def search(page: Page) -> None:
    """Start a search, see how far it is, stop it, and wait for what it found."""
    press(page, "Make the schedule")
    found = page.get_by_role("button", name="Put this plan in force")
    expect(page.get_by_text("Cannot be better than").or_(found).first).to_be_visible()
    counted = page.get_by_text(re.compile(r"of 6$"))
    expect(counted.or_(found).first).to_be_visible()
    stop_and_keep(page)
    expect(found).to_be_visible(timeout=90_000)
    settled(page)


def stop_and_keep(page: Page) -> None:
    """Stop the search, where it has not ended by itself: also between the look and the click."""
    stop = page.get_by_role("button", name="Stop and keep the best")
    if stop.is_visible():
        with suppress(Error):
            stop.click(timeout=5_000)


def pick(page: Page, label: str, option: str) -> None:
    page.get_by_role("combobox", name=label, exact=True).click()
    page.get_by_role("option", name=re.compile(option)).first.click()
    settled(page)


def saved(page: Page, button: str, folder: Path) -> bytes:
    """What that button downloads."""
    with page.expect_download(timeout=60_000) as coming:
        page.get_by_role("button", name=button).first.click()
    path = folder / coming.value.suggested_filename
    coming.value.save_as(path)
    return path.read_bytes()


def test_a_coordinator_packs_fixes_packs_again_and_prints(small_app, station, picture, tmp_path: Path):
    page = station(small_app.page("schedule"), width=1280, height=1200)
    search(page)
    picture(page, "walk-proposal")
    press(page, "Put this plan in force")
    expect(page.get_by_text("Plan 2 is in force")).to_be_visible()
    pick(page, "One visit of this day", "rowing 1|practice")
    page.get_by_text(re.compile("^start at")).click()
    press(page, "Fix it so")
    expect(page.get_by_text("Files changed since this plan was made.")).to_be_visible()
    (wish,) = read_study(small_app.study).wishes
    picture(page, "walk-fixed")
    search(page)
    press(page, "Put this plan in force")
    expect(page.get_by_text("Plan 3 is in force")).to_be_visible()
    plan = read_plan(in_force(small_app.study), read_study(small_app.study))
    starts = {(v.participant, v.file_id): v.start for v in plan.visits}
    assert starts[wish.participant, wish.visit] == wish.start
    go(page, "Documents", "What do people hold in their hands?")
    expect(page.get_by_role("img", name=re.compile("^Run sheets: .*page 1"))).to_be_visible()
    picture(page, "walk-run-sheet")
    assert saved(page, "Download run-sheet", tmp_path).startswith(b"%PDF")


def test_a_reload_and_the_back_button_lose_nothing(small_app, station):
    page = station(small_app.page("schedule"), width=1280, height=1200)
    page.get_by_role("radio", name="week").click()
    settled(page)
    pick(page, "Day", "2 March")
    address = page.url
    assert "view=week" in address
    assert "day=2027-03-02" in address
    assert "ROW-" not in address
    page.reload()
    expect(page.get_by_role("radio", name="week")).to_be_checked()
    expect(page.get_by_role("combobox", name="Day", exact=True)).to_have_value(re.compile("2 March"))
    go(page, "Documents", "What do people hold in their hands?")
    page.go_back()
    expect(page.get_by_role("heading", name="Who is where, when?")).to_be_visible()
    expect(page.get_by_role("radio", name="week")).to_be_checked()
    go(page, "Documents", "What do people hold in their hands?")
    go(page, "Schedule", "Who is where, when?")
    page.go_back()  # no page may write itself into the history at each arrival
    expect(page.get_by_role("heading", name="What do people hold in their hands?")).to_be_visible(
        timeout=60_000
    )


def test_a_search_goes_on_when_the_tab_is_closed(small_app, station):
    page = station(small_app.page("schedule"), width=1280, height=1200)
    press(page, "Make the schedule")
    page.close()
    again = station(small_app.page("schedule"), width=1280, height=1200)
    stop = again.get_by_role("button", name="Stop and keep the best")
    use = again.get_by_role("button", name="Put this plan in force")
    expect(stop.or_(use).first).to_be_visible()
    stop_and_keep(again)
    expect(use).to_be_visible(timeout=90_000)


def test_a_reader_exports_the_ethics_text_and_the_report(demo_app, station, picture, tmp_path: Path):
    page = station(demo_app.page("documents"), width=1280, height=1200)
    page.get_by_text("Ethics text", exact=True).click()
    expect(page.get_by_role("heading", name="Number of maximal efforts and time")).to_be_visible(
        timeout=60_000
    )
    settled(page)
    picture(page, "walk-ethics")
    assert saved(page, "Download ethics", tmp_path).startswith(b"PK")
    go(page, "Adherence", "Was the plan kept?")
    expect(page.get_by_text("Dry run with made-up numbers.")).to_be_visible()
    assert saved(page, "Report for the meeting (PDF)", tmp_path).startswith(b"%PDF")
    picture(page, "walk-adherence")
