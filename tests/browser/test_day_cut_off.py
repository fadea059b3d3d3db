"""The Test day page while nobody answers: what it says, and what is still there afterwards."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from planner.commands.app import server_words
from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

pytestmark = pytest.mark.browser
DATA = Path(__file__).parents[1] / "data"
SILENT = re.compile(r"No answer from the app for \d+ s\. What was recorded stays\.")


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = tmp_path / "small"
    shutil.copytree(DATA / "small", folder)
    put_in_force(folder, read_plan(DATA / "small-plan.json", read_study(folder)))
    return folder


def begin_typing(page: Page) -> None:
    page.get_by_role("combobox", name="Who records?").click()
    page.get_by_role("option", name="K1").click()
    for name in ("Started", "Done", "Effort 1 started", "Effort 1 done"):
        button = page.get_by_role("button", name=name, exact=True, disabled=False)
        expect(button).to_have_count(1)
        button.click()
    page.get_by_role("spinbutton", name="FVC, L").press_sequentially("4.80")


def test_a_stopped_app_is_said_and_what_was_typed_is_there_when_it_is_back(
    study, station, new_port, run_server, tmp_path, picture
):
    port = new_port()
    url = f"http://127.0.0.1:{port}"
    words, log = server_words(port, browser=False), tmp_path / "app.log"
    with run_server(words, url, log, TESTDAY_STUDY=str(study)):
        page = station(f"{url}/day?visit=3&station=rig-1")
        begin_typing(page)
        expect(page.get_by_text(SILENT)).to_be_hidden()
    expect(page.get_by_text(SILENT)).to_be_visible()
    picture(page, "day-no-answer")
    with run_server(words, url, log, TESTDAY_STUDY=str(study)):
        expect(page.get_by_text(SILENT)).to_be_hidden()
        expect(page.get_by_role("spinbutton", name="FVC, L")).to_have_value("4.80")
        page.get_by_role("spinbutton", name="FEV1, L").fill("3.9")
        page.get_by_role("button", name="Keep these readings").click()
        expect(page.get_by_text("FVC 4.80 L, FEV1 3.90 L")).to_be_visible()


def test_the_browser_asks_before_it_throws_away_what_was_typed(small_app, station):
    page = station(small_app.page("day", "visit=3&station=rig-1"))
    begin_typing(page)
    asked: list[str] = []

    def stay(dialog) -> None:
        asked.append(dialog.type)
        dialog.dismiss()

    page.on("dialog", stay)
    page.evaluate("() => { setTimeout(() => location.reload(), 0); }")
    page.wait_for_timeout(1000)
    assert asked == ["beforeunload"]
    expect(page.get_by_role("spinbutton", name="FVC, L")).to_have_value("4.80")
    page.get_by_role("spinbutton", name="FEV1, L").fill("3.9")
    page.get_by_role("button", name="Keep these readings").click()
    expect(page.get_by_text("FVC 4.80 L, FEV1 3.90 L")).to_be_visible()
    page.evaluate("() => { window.before = true; setTimeout(() => location.reload(), 0); }")
    page.wait_for_function("() => !window.before")
    assert asked == ["beforeunload"]


def test_enter_does_not_send_the_first_of_two_readings_alone(small_app, station):
    page = station(small_app.page("day", "visit=3&station=rig-1"))
    begin_typing(page)
    page.keyboard.press("Enter")
    page.get_by_role("spinbutton", name="FEV1, L").fill("3.9")
    expect(page.get_by_text("Press Enter")).to_have_count(0)  # it lay over the digits
    page.get_by_role("button", name="Keep these readings").click()
    expect(page.get_by_text("FVC 4.80 L, FEV1 3.90 L")).to_be_visible()
