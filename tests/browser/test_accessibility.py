"""Every page by axe, light and dark, wide and narrow, with a screenshot of each; and by keyboard alone."""

from __future__ import annotations

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from planner.pages.main import PAGES

pytestmark = pytest.mark.browser
FRAMEWORK = {"list", "listitem"}  # axe rules that the framework's own navigation breaks
NAMES = [file.removesuffix(".py") for file, _ in PAGES]
# page: the control that is marked when one comes to it, the keys that use it, and what is marked then
USED = {
    "protocol": ("Parts", ("ArrowRight", "Space"), "Manoeuvres"),
    "study": ("Days and rules", ("ArrowRight", "Space"), "Devices"),
    "schedule": ("day", ("ArrowRight", "Space"), "week"),
    "documents": (re.compile("^Run sheets"), ("ArrowDown",), re.compile("^Day boards")),
    "adherence": ("Time points", ("ArrowRight", "Space"), "On time, week by week"),
}
AROUND = """() => {
  const marked = document.activeElement.closest("label") || document.activeElement;
  const {x, y, width, height} = marked.getBoundingClientRect();
  return {x: Math.max(0, x - 6), y: Math.max(0, y - 6), width: width + 12, height: height + 12};
}"""


def settled(page: Page) -> None:
    """Wait until the server has answered and the page is drawn to its end."""
    page.evaluate("settled()")


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


def is_marked(page: Page) -> bool:
    """Whether one sees where the keys go: the same spot looks otherwise without them."""
    page.evaluate("() => document.activeElement.scrollIntoView({block: 'center'})")
    around = page.evaluate(AROUND)
    there = page.screenshot(clip=around, animations="disabled", caret="hide")
    page.evaluate("() => { window.here = document.activeElement; window.here.blur(); }")
    without = page.screenshot(clip=around, animations="disabled", caret="hide")
    page.keyboard.press("Shift")  # keys stay what moves the focus, so that it is drawn as such
    page.evaluate("() => window.here.focus()")
    return there != without


@pytest.mark.parametrize("name", USED)
def test_a_keyboard_alone_comes_to_the_main_control_and_uses_it(demo_app, station, come_to, name: str):
    main, keys, then = USED[name]
    page = station(demo_app.page(name), width=1280, height=1200)
    settled(page)
    control = page.get_by_role("radio", name=main, exact=True)
    come_to(page, control)
    assert is_marked(page), "one does not see where the keys go"
    for key in keys:
        page.keyboard.press(key)
    expect(page.get_by_role("radio", name=then, exact=True)).to_be_checked()
    settled(page)
    if name == "schedule":
        come_to(page, page.get_by_role("combobox", name="One visit of this day"))
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        expect(page.get_by_role("columnheader", name="First effort")).to_be_visible()
    assert page.get_by_test_id("stException").count() == 0


def test_a_keyboard_alone_goes_from_page_to_page(demo_app, station, come_to):
    page = station(demo_app.page("numbers"), width=1280, height=900)
    settled(page)
    link = page.get_by_role("link", name="Documents", exact=True)
    come_to(page, link)
    assert is_marked(page), "one does not see where the keys go"
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="What do people hold in their hands?")).to_be_visible()
