"""Every page by axe, light and dark, wide and narrow, with a screenshot of each to be looked at."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from planner.pages.main import PAGES

pytestmark = pytest.mark.browser
FRAMEWORK = {"list", "listitem"}  # axe rules that the framework's own navigation breaks
NAMES = [file.removesuffix(".py") for file, _ in PAGES]


def settled(page: Page) -> None:
    """Wait until the server has answered and the pictures are drawn."""
    page.wait_for_timeout(500)
    expect(page.locator('[data-test-script-state="running"]')).to_have_count(0, timeout=60_000)
    expect(page.get_by_test_id("stSkeleton")).to_have_count(0, timeout=60_000)
    page.wait_for_timeout(500)


def violations(page: Page) -> list[str]:
    found = Axe().run(page).response["violations"]
    return [
        f"{one['id']}: {node['target']} {node['html'][:120]}"
        for one in found
        if one["impact"] in ("serious", "critical") and one["id"] not in FRAMEWORK
        for node in one["nodes"][:3]
    ]


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [1280, 768])
def test_no_page_keeps_anybody_out(demo_app, station, picture, name: str, dark: bool, width: int):
    page = station(demo_app.page(name), width=width, height=1200, dark=dark)
    settled(page)
    picture(page, f"page-{name}-{width}-{'dark' if dark else 'light'}")
    assert violations(page) == []
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= width, f"the page is {wide} px wide"


@pytest.mark.parametrize("view", ["day", "week", "whole+plan"])
@pytest.mark.parametrize("rows", ["device", "staff", "participant"])
def test_every_view_of_the_schedule_keeps_nobody_out(demo_app, station, picture, view: str, rows: str):
    page = station(demo_app.page("schedule", f"view={view}&rows={rows}&visit=5"), width=1280, height=1400)
    settled(page)
    picture(page, f"schedule-{view.replace('+', '-')}-{rows}")
    assert violations(page) == []
