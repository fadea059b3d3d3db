"""How soon the app answers, driven by a browser: `python tests/benchmarks/app_speed.py [PART ...]`.

Parts: `first` (the demo from the command to its first page drawn, bar 5 s), `pages` and `clicks` (a study of
240 visits; bar 0.3 s each), `drag` (240 visits on 60 days dragged and zoomed: bar no message to the server),
`memory` (eight sessions that have seen every page, bar 1.5 GB). A time ends when the new content stands in
the page and nothing on it is stale; of a page change it is said as well when the new page's title stood, the
first that a person sees of it. What the framework itself takes can be read off the page of words alone, What
the numbers mean. The studies are packed once and kept.
"""

from __future__ import annotations

import os
import statistics
import sys
import time

import psutil
from app_driving import ROOT, chromium, click, copied, drawn, opened, packed, stood, watched
from playwright.sync_api import Page

CHART = "document.querySelector('[data-testid=stVegaLiteChart] :is(svg, canvas)')"
PAPER = "[...document.querySelectorAll('[data-testid=stImage] img')].some(i => i.complete && i.naturalWidth)"
# page: its title, and what stands on it when it is drawn
PAGES = {
    "Study": ("Who comes, and with what?", "document.querySelector('input[aria-label=\"First day\"]').value"),
    "Schedule": ("Who is where, when?", CHART),
    "Documents": ("What do people hold in their hands?", PAPER),
    "Test day": ("What now?", ""),
    "Adherence": ("Was the plan kept?", ""),
    "What the numbers mean": ("What do the numbers mean?", ""),
    "Protocol": ("What happens in a visit?", CHART),
}
ROUNDS = 4
LOOKED_S = 5  # as long as anybody looks at a page that they have just opened
LINK, RADIO = "a", "[role=radio]"
BAR_S = 0.3


def row(what: str, seconds: list[float], bar: float = BAR_S) -> None:
    """One line of the table; over the bar is said."""
    over = "" if statistics.median(seconds) <= bar else "  OVER"
    print(
        f"{what:<48}{min(seconds):7.2f}{statistics.median(seconds):7.2f}{max(seconds):7.2f}{over}", flush=True
    )


def to_page(page: Page, name: str) -> tuple[float, float]:
    """Seconds from the click on a page's link until its title stands, and until all of it is drawn."""
    title, seen = PAGES[name]
    click(page, LINK, name)
    whole = drawn(page, title, seen)
    return stood(page), whole


def page_rows(what: str, times: list[tuple[float, float]]) -> None:
    """Two lines of the table: the title, and the whole page."""
    row(f"{what}: title", [title for title, _ in times])
    row(f"{what}: all", [whole for _, whole in times])


def first() -> None:
    """The demo, from the command until its first page is drawn; the first time it is made as well."""
    with copied(ROOT / "demo_study") as study, chromium() as browser:
        for what in ("first page, demo made as well", "first page", "first page again"):
            with opened(study) as (_, address, began):
                page = watched(browser)
                page.goto(address, wait_until="commit")
                drawn(page, *PAGES["Protocol"])
                row(what, [time.perf_counter() - began], 5)
                page.close()


def hurried(page: Page) -> None:
    """The first time to each page for who clicks at once, while the server still reads ahead."""
    for name in PAGES:
        page_rows(f"at once to {name}", [to_page(page, name)])


def pages(page: Page) -> None:
    """Page changes: the first time in a new server for who has looked at the first page, then again."""
    time.sleep(LOOKED_S)
    for name in PAGES:
        page_rows(f"first time to {name}", [to_page(page, name)])
    later: dict[str, list[tuple[float, float]]] = {name: [] for name in PAGES}
    for _ in range(ROUNDS):
        for name in PAGES:
            later[name].append(to_page(page, name))
    for name, times in later.items():
        page_rows(f"page change to {name}", times)


def chosen(page: Page, name: str, seen: str = "") -> float:
    """Seconds from a click on one of several views until it is drawn."""
    click(page, RADIO, name)
    return drawn(page, "", seen)


def typed(page: Page, label: str, text: str) -> float:
    """Seconds from Enter in a field until the page says that it is not saved yet."""
    box = page.get_by_label(label, exact=True).first
    box.fill(text)
    box.press("Enter")
    return drawn(page)


def listed(page: Page, label: str, number: int) -> float:
    """Seconds from choosing an item of a list until the page is drawn with it."""
    box = page.get_by_role("combobox", name=label, exact=True).first
    box.focus()
    box.press("ArrowDown")  # opens the list, whatever lies over it
    page.get_by_role("option").nth(number).click()
    return drawn(page)


def clicks(page: Page) -> None:
    """What a coordinator clicks on."""
    to_page(page, "Schedule")
    for rows in ("device", "staff", "participant"):
        for span in ("week", "whole plan", "day"):
            row(f"Schedule: {span} by {rows}", [chosen(page, span, CHART)])
        if rows != "participant":
            row(f"Schedule: rows by {'staff' if rows == 'device' else 'participant'}",
                [chosen(page, "staff" if rows == "device" else "participant", CHART)])  # fmt: skip
    row("Schedule: another day", [listed(page, "Day", n) for n in (3, 7, 11)])
    row("Schedule: one visit", [listed(page, "One visit of this day", n) for n in (2, 4)])
    to_page(page, "Study")
    for view in (
        "Devices",
        "Staff",
        "Shifts",
        "Participants",
        "Visits",
        "Availability",
        "Text",
        "Days and rules",
    ):
        row(f"Study: {view}", [chosen(page, view)])
    row("Study: a field typed", [typed(page, "Closed on", "2027-03-05")])
    to_page(page, "Protocol")
    for view in ("Manoeuvres", "Windows", "Chances", "Text", "Compare", "New", "Parts"):
        row(f"Protocol: {view}", [chosen(page, view, CHART)])
    row("Protocol: a field typed", [typed(page, "Takes", f"{n} min") for n in (11, 12)])
    to_page(page, "Documents")
    row("Documents: for one person", [listed(page, "For", 2)])


def drag() -> None:
    """The whole plan of 60 days, dragged and zoomed: what goes to the server, and how soon it is drawn."""
    with (
        copied(packed("on-60-days", weeks=14, a_day=4)) as study,
        chromium() as browser,
        opened(study) as (_, address, _),
    ):
        page = watched(browser)
        sent: list[object] = []
        page.on("websocket", lambda socket: socket.on("framesent", lambda frame: sent.append(frame)))
        page.goto(f"{address}/schedule?view=whole+plan&rows=device")
        drawn(page, PAGES["Schedule"][0], CHART)
        chart = page.get_by_test_id("stVegaLiteChart").first
        chart.scroll_into_view_if_needed()
        box = chart.bounding_box()
        assert box
        before, look = len(sent), chart.screenshot()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 3
        page.mouse.move(x, y)
        for turn in (-300, -300, 200):
            page.mouse.wheel(0, turn)
        page.mouse.down()
        took = [drag_step(page, x - 10 * n, y) for n in range(1, 31)]
        page.mouse.up()
        page.evaluate("() => new Promise(done => setTimeout(done, 500))")  # a late message would come now
        assert chart.screenshot() != look, "the picture did not move"
        row("one step of a drag until drawn", took)
        print(f"messages to the server while dragging and zooming: {len(sent) - before} (bar 0)")


def drag_step(page: Page, x: float, y: float) -> float:
    """Seconds until the mouse's step is on the screen: the next frame after it was handled."""
    began = time.perf_counter()
    page.mouse.move(x, y)
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return time.perf_counter() - began


def memory() -> None:
    """Eight sessions, each of which has seen every page."""
    with (
        copied(packed("240-visits", weeks=8)) as study,
        chromium() as browser,
        opened(study) as (server, address, _),
    ):
        for _ in range(8):
            page = watched(browser)
            page.goto(address)
            drawn(page, *PAGES["Protocol"])
            for name in PAGES:
                to_page(page, name)
        held = psutil.Process(server.pid).memory_info().rss / 1e6
        print(f"memory of the server with eight sessions: {held:.0f} MB (bar 1500 MB)")


def large(parts: list[str]) -> None:
    """Page changes and clicks with 240 visits; the hurried one has a server of their own."""
    asked = [(hurried,)] * ("pages" in parts)
    asked.append(tuple(measure for part, measure in (("pages", pages), ("clicks", clicks)) if part in parts))
    with copied(packed("240-visits", weeks=8)) as study, chromium() as browser:
        for measures in asked:
            with opened(study) as (_, address, _):
                page = watched(browser)
                page.goto(address)
                drawn(page, *PAGES["Protocol"])
                for measure in measures:
                    measure(page)
                page.close()


def main(parts: list[str]) -> None:
    """The parts that were asked for."""
    print(f"load of the machine at the beginning: {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")
    print(f"{'seconds':<48}{'least':>7}{'median':>7}{'most':>7}", flush=True)
    if "first" in parts:
        first()
    if {"pages", "clicks"} & set(parts):
        large(parts)
    if "drag" in parts:
        drag()
    if "memory" in parts:
        memory()
    print(f"load of the machine at the end: {os.getloadavg()[0]:.1f} (a quiet machine: below 1 beside this)")


if __name__ == "__main__":
    main(sys.argv[1:] or ["first", "pages", "clicks", "drag", "memory"])
