"""A running app and a browser for benchmarks: what a person waits for, measured in the page itself."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright
from studies import write_study

from planner.packing.pack import pack
from planner.schedule.in_force import in_force, put_in_force
from planner.schedule.plan_file import read_plan, write_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
PACKING_S = 20

# Kept by every page from its beginning: when a person last clicked or typed, whether the server has begun to
# answer since, when the page last changed, and when its title last did.
WATCH = """() => {
  const seen = window.seen = {
    acted: performance.now(), answered: true, changed: performance.now(), title: "", titled: 0 };
  for (const kind of ["click", "keydown"])
    addEventListener(kind, () => { seen.acted = performance.now(); seen.answered = false; }, true);
  const Plain = window.WebSocket;
  window.WebSocket = class extends Plain {
    constructor(...given) {
      super(...given);
      this.addEventListener("message", () => { seen.answered = true; });
    }
  };
  new MutationObserver(() => {
    const title = document.querySelector("h1")?.innerText.trim() ?? "";
    seen.changed = performance.now();
    if (title && title !== seen.title) Object.assign(seen, { title, titled: seen.changed });
  }).observe(document, {
    subtree: true, childList: true, characterData: true, attributes: true,
    attributeFilter: ["data-test-script-state", "data-stale", "aria-checked", "src"] });
}"""
# When all is drawn: the server has answered and rests, nothing is stale, what a person waits for stands
# there, and nothing has changed for a while. Gives the milliseconds from the act to the last change.
UNTIL = """([title, wanted, patience]) => new Promise((done, failed) => {
  const began = performance.now(), seen = window.seen;
  const holds = () => {
    const head = document.querySelector("h1"), app = document.querySelector("[data-test-script-state]");
    return seen.answered && app.dataset.testScriptState === "notRunning"
      && !document.querySelector('[data-stale="true"], [data-testid="stSkeleton"]')
      && (!title || head.innerText.trim().startsWith(title))
      && (!wanted || new Function("return " + wanted)());
  };
  const look = () => {
    let is_there = false;
    try { is_there = holds(); } catch (not_yet) { /* what is looked for is not there */ }
    if (is_there && performance.now() - seen.changed > 150) return done(seen.changed - seen.acted);
    if (performance.now() - began > patience) return failed(new Error("not drawn: " + title + " " + wanted));
    setTimeout(look, 5);
  };
  look();
})"""
CLICK = """([kind, name]) => {
  const one = [...document.querySelectorAll(kind)].find(e => e.innerText.trim() === name);
  if (!one) throw new Error("nothing to click: " + name);
  one.click();
}"""


def watched(browser: Browser) -> Page:
    """A page that keeps when it was acted upon and when it changed."""
    page = browser.new_context(viewport={"width": 1280, "height": 1000}).new_page()
    page.add_init_script(f"({WATCH})()")
    return page


def click(page: Page, kind: str, name: str) -> None:
    """Click on the element of that kind (CSS) with that text."""
    page.evaluate(CLICK, [kind, name])


def drawn(page: Page, title: str = "", wanted: str = "") -> float:
    """Seconds from the last click or key until that title and `wanted` (JavaScript) hold and all is drawn."""
    return float(page.evaluate(UNTIL, [title, wanted, 30_000])) / 1000


def stood(page: Page) -> float:
    """Seconds from the last click until the title that stands now came to stand."""
    return float(page.evaluate("() => seen.titled - seen.acted")) / 1000


def packed(name: str, *, weeks: int, a_day: int | None = None) -> Path:
    """A made-up study of 240 visits with its plan; packed once and kept in the machine's temporary folder."""
    folder = Path(tempfile.gettempdir()) / "testday-benchmarks" / name
    if not (folder / "plan.json").exists():
        write_study(folder, participants=60, weeks=weeks)
        if a_day:
            with (folder / "study.yaml").open("a", encoding="utf-8") as stream:
                stream.write(f"at_most_visits_a_day: {a_day}\n")
        study = read_study(folder)
        now = datetime.now(study.zone).replace(microsecond=0)
        write_plan(pack(study, visit_plans(study), seconds=PACKING_S, now=now), folder / "plan.json")
    return folder


@contextmanager
def copied(source: Path) -> Iterator[Path]:
    """A copy of the study with its plan in force, so that nothing of the original changes."""
    with tempfile.TemporaryDirectory() as home:
        os.environ["XDG_STATE_HOME"] = home
        study = Path(home) / source.name
        shutil.copytree(source, study)
        if (source.parent / "protocols").is_dir():
            shutil.copytree(source.parent / "protocols", Path(home) / "protocols")
        if in_force(study) is None:
            put_in_force(study, read_plan(study / "plan.json", read_study(study)))
        yield study


@contextmanager
def chromium() -> Iterator[Browser]:
    """A browser without a window."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        yield browser
        browser.close()


@contextmanager
def opened(study: Path) -> Iterator[tuple[subprocess.Popen[bytes], str, float]]:
    """The app by its command: its process, its address, and when the command was given."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [sys.executable, "-m", "planner", "open", str(study), "--no-browser", "--port", str(port)]
    began = time.perf_counter()
    server = subprocess.Popen(words, stdout=subprocess.DEVNULL)
    try:
        while True:
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            assert server.poll() is None, "the app ended at once"
            time.sleep(0.02)
        yield server, f"http://127.0.0.1:{port}", began
    finally:
        server.terminate()
        server.wait(timeout=30)
