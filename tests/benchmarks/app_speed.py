"""How soon the app answers, driven by a browser: `python tests/benchmarks/app_speed.py [STUDY]`.

Prints the first page from the command (bar 5 s), each page change and each click on the Schedule page
(bar 0.3 s, the slower half apart), and the server's memory with eight sessions (bar 1.5 GB). Without
STUDY the demo study is used. STUDY needs a plan.json beside study.yaml, or a plan in force.
"""

from __future__ import annotations

import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil
from playwright.sync_api import Browser, Page, sync_playwright

from planner.schedule.in_force import in_force, put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
TITLES = {
    "Study": "Who comes, and with what?",
    "Schedule": "Who is where, when?",
    "Documents": "What do people hold in their hands?",
    "Test day": "What now?",
    "Adherence": "Was the plan kept?",
    "Protocol": "What happens in a visit?",
}
ROUNDS = 5
DONE = """title => { const h = document.querySelector('h1');
  return h && h.innerText.trim().startsWith(title)
    && !document.querySelector('[data-test-script-state="running"], [data-stale="true"]'); }"""
IDLE = """() => !document.querySelector('[data-test-script-state="running"], [data-stale="true"]')"""


def planned(study: Path) -> None:
    """The study with a plan in force."""
    if in_force(study) is None:
        put_in_force(study, read_plan(study / "plan.json", read_study(study)))


def started(study: Path, browser: Browser) -> tuple[subprocess.Popen[bytes], str, float]:
    """The server by its command, and the seconds until the first page shows its title."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [sys.executable, "-m", "planner", "open", str(study), "--no-browser", "--port", str(port)]
    began = time.perf_counter()
    server = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    address = f"http://127.0.0.1:{port}"
    while True:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                break
        assert server.poll() is None, "the app ended at once"
        time.sleep(0.02)
    page = browser.new_page()
    page.goto(address)
    page.wait_for_function(DONE, arg=TITLES["Protocol"], timeout=60_000, polling=10)
    return server, address, time.perf_counter() - began


def changed(page: Page, name: str) -> float:
    """Seconds from the click on a page's link until its title stands and the server rests."""
    began = time.perf_counter()
    page.get_by_role("link", name=name, exact=True).first.click()
    page.wait_for_function(DONE, arg=TITLES[name], timeout=60_000, polling=10)
    return time.perf_counter() - began


def clicked(page: Page, name: str) -> float:
    """Seconds from a click on a view of the Schedule page until it is drawn."""
    began = time.perf_counter()
    page.get_by_role("radio", name=name, exact=True).click()
    page.wait_for_function("n => document.querySelector(`[role=radio][aria-checked=true]`) && n", arg=name)
    page.wait_for_timeout(20)
    page.wait_for_function(IDLE, timeout=60_000, polling=10)
    return time.perf_counter() - began


def row(what: str, seconds: list[float]) -> None:
    print(f"{what:<34}{min(seconds):8.2f}{statistics.median(seconds):8.2f}{max(seconds):8.2f}")


def measure(study: Path) -> None:
    """All figures of one study."""
    visits = sum(map(len, read_study(study).asked.values()))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        server, address, first = started(study, browser)
        try:
            print(f"{visits} visits\n{'seconds':<34}{'least':>8}{'median':>8}{'most':>8}")
            row("first page from the command", [first])
            page = browser.new_page(viewport={"width": 1280, "height": 1000})
            page.goto(address)
            page.wait_for_function(DONE, arg=TITLES["Protocol"], timeout=60_000)
            once = {name: changed(page, name) for name in TITLES}
            for name in TITLES:
                row(f"first visit to {name}", [once[name]])
            later: dict[str, list[float]] = {name: [] for name in TITLES}
            for _ in range(ROUNDS):
                for name in TITLES:
                    later[name].append(changed(page, name))
            for name in TITLES:
                row(f"page change to {name}", later[name])
            changed(page, "Schedule")
            for name in ("week", "whole plan", "staff", "day"):
                row(f"schedule by {name}", [clicked(page, name)])
            sessions = [browser.new_page() for _ in range(8)]
            for place, session in enumerate(sessions):
                session.goto(f"{address}/{['schedule', 'documents', 'adherence', 'day'][place % 4]}")
                session.locator("h1").first.wait_for(timeout=60_000)
                session.wait_for_function(IDLE, timeout=60_000)
            held = psutil.Process(server.pid).memory_info().rss / 1e6
            print(f"memory with eight more sessions: {held:.0f} MB (bar 1500 MB)")
        finally:
            server.terminate()
            server.wait(timeout=30)
            browser.close()


def main() -> None:
    """On a copy, so that nothing of the study changes."""
    source = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "demo_study"
    with tempfile.TemporaryDirectory() as home:
        os.environ["XDG_STATE_HOME"] = home
        study = Path(home) / source.name
        shutil.copytree(source, study)
        for shared in ("protocols",):
            if (source.parent / shared).is_dir():
                shutil.copytree(source.parent / shared, Path(home) / shared)
        planned(study)
        measure(study)


if __name__ == "__main__":
    main()
