"""The running app and a real browser, for all tests that drive it. Screenshots go to .artefacts/."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Locator, Page, expect, sync_playwright

from planner.commands.app import server_words

ROOT = Path(__file__).parents[2]
CHROMIUM = "/usr/bin/chromium"
ARTEFACTS = ROOT / ".artefacts"
PATIENCE_MS = 60_000  # a machine that does more than these tests is slower, and no less right
expect.set_options(timeout=PATIENCE_MS)
ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip

# `settled()` in every page: the server has answered what was done and rests, nothing shown is out of date,
# and the page has not changed for a while. A click marks it as not at rest at once, so none is missed.
SETTLED = """
let changed = performance.now();
new MutationObserver(() => { changed = performance.now(); }).observe(
  document, { subtree: true, childList: true, characterData: true, attributes: true });
window.settled = () => new Promise((done, failed) => {
  const began = performance.now();
  const look = () => {
    const app = document.querySelector("[data-test-script-state]");
    const rests = app && app.dataset.testScriptState === "notRunning"
      && !document.querySelector('[data-stale="true"], [data-testid="stSkeleton"]');
    if (rests && performance.now() - Math.max(changed, began) > 250) return done();
    if (performance.now() - began > 60000) return failed(new Error("the page does not come to rest"));
    setTimeout(look, 20);
  };
  look();
});
"""


def pytest_collection_modifyitems(items: list[pytest.Item]):
    """Once more, where a real browser on a busy machine missed a click; the end of the output lists each.

    What is broken fails both times.
    """
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.flaky(reruns=1))


@dataclass(frozen=True)
class App:
    """A running app: its address, the study's folder it works in, and its log."""

    url: str
    study: Path
    log: Path

    def page(self, name: str, query: str = "") -> str:
        """The address of a page."""
        return f"{self.url}/{name}?{query}" if query else f"{self.url}/{name}"


def free_port() -> int:
    """A port of this machine that nobody listens on now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running(words: Sequence[str], url: str, log: Path, **environment: str) -> Iterator[None]:
    """The server that those words start, from its first answer at `url` until the block ends."""
    with open(log, "wb") as said:
        server = subprocess.Popen(
            words, cwd=ROOT, env=os.environ | environment, stdout=said, stderr=subprocess.STDOUT
        )
        try:
            _wait(f"{url}/_stcore/health", server)
            yield
        finally:
            server.terminate()
            server.wait(timeout=30)


def _wait(address: str, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        assert server.poll() is None, "the app ended at once"
        try:
            urllib.request.urlopen(address, timeout=2).close()
            return
        except OSError:
            time.sleep(0.05)
    raise AssertionError("the app did not answer within 60 s")


@contextmanager
def serve(study: Path, log: Path) -> Iterator[App]:
    """The app on that study, on a free port of this machine, ended afterwards."""
    port = free_port()
    url = f"http://127.0.0.1:{port}"
    with running(server_words(port, browser=False), url, log, TESTDAY_STUDY=str(study)):
        yield App(url, study, log)


@pytest.fixture(scope="session")
def new_port() -> Callable[[], int]:
    """Finds a port for a server of the test's own."""
    return free_port


@pytest.fixture(scope="session")
def run_server() -> Callable[..., AbstractContextManager[None]]:
    """Runs a server of the test's own: `with run_server(words, url, log, NAME="value"):`."""
    return running


@pytest.fixture
def serving() -> Callable[[Path, Path], AbstractContextManager[App]]:
    """Serves the app on a study of the test's own: `with serving(folder, log) as app`."""
    return serve


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One Chromium for all tests."""
    if not Path(CHROMIUM).exists():
        pytest.skip("needs Chromium: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def station(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Opens a page in a browser of its own, sharing nothing with others; a tablet unless told otherwise."""
    contexts: list[BrowserContext] = []

    def open_it(address: str, *, width: int = 768, height: int = 1024, dark: bool = False) -> Page:
        context = chromium.new_context(
            viewport={"width": width, "height": height}, color_scheme="dark" if dark else "light"
        )
        contexts.append(context)
        context.set_default_timeout(PATIENCE_MS)
        page = context.new_page()
        page.add_init_script(SETTLED)
        page.goto(address)
        page.locator("h1").first.wait_for()
        return page

    yield open_it
    for context in contexts:
        context.close()


MOST_STOPS = 60
IS_HERE = "one => one === one.getRootNode().activeElement"  # a table has a root of its own
# what has the keys now: its own name, or the words that stand in it
WHERE = """() => {
  let here = document.activeElement;
  while (here.shadowRoot?.activeElement) here = here.shadowRoot.activeElement;
  return (here.getAttribute("aria-label") || here.innerText || here.tagName).slice(0, 60);
}"""


@pytest.fixture(scope="session")
def come_to() -> Callable[..., None]:
    """Presses the key, the tab key unless told otherwise, until the control is the one that keys go to."""

    def press(page: Page, control: Locator, key: str = "Tab", most: int = MOST_STOPS) -> None:
        expect(control).to_be_attached()
        passed = []
        for _ in range(most):
            page.keyboard.press(key)
            if control.evaluate(IS_HERE):
                return
            passed.append(page.evaluate(WHERE))
        raise AssertionError(f"{most} times {key} do not come to it, but to {passed}")

    return press


@pytest.fixture
def picture() -> Callable[[Page, str], None]:
    """Keeps a screenshot of the page and fails where the page shows an exception."""

    def keep(page: Page, name: str) -> None:
        ARTEFACTS.mkdir(exist_ok=True)
        page.screenshot(path=str(ARTEFACTS / f"{name}.png"), full_page=True)
        assert page.get_by_test_id("stException").count() == 0

    return keep


@pytest.fixture
def small_app(tmp_path: Path) -> Iterator[App]:
    """The app on a fresh copy of the small study with its plan in force."""
    from planner.schedule.in_force import put_in_force
    from planner.schedule.plan_file import read_plan
    from planner.study.read import read_study

    folder = tmp_path / "small"
    shutil.copytree(ROOT / "tests" / "data" / "small", folder)
    study = read_study(folder)
    put_in_force(folder, read_plan(ROOT / "tests" / "data" / "small-plan.json", study))
    with serve(folder, tmp_path / "app.log") as app:
        yield app


@pytest.fixture(scope="module")
def demo_app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[App]:
    """The app on a packed, half rehearsed copy of the demo study, as `testday open demo_study` gives it."""
    from planner.commands.demo import working_copy

    home = tmp_path_factory.mktemp("demo")
    before = os.environ.get("XDG_STATE_HOME")
    os.environ["XDG_STATE_HOME"] = str(home)
    try:
        study = working_copy(ROOT / "demo_study", lambda words: None)
    finally:
        os.environ.pop("XDG_STATE_HOME")
        if before is not None:
            os.environ["XDG_STATE_HOME"] = before
    with serve(study, home / "app.log") as app:
        yield app
