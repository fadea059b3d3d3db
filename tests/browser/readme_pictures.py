"""Draws the pictures of README from the running app: `python tests/browser/readme_pictures.py [FOLDER]`.

One packed day, the run sheet of a visit, and one page for each of the three people who use the app.
"""

from __future__ import annotations

import importlib.util
import os
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from planner.commands.demo import working_copy
from planner.documents.jobs import Wanted, jobs
from planner.documents.preview import pages
from planner.schedule.in_force import in_force
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
SPEC = importlib.util.spec_from_file_location("browser_conftest", Path(__file__).with_name("conftest.py"))
assert SPEC is not None
assert SPEC.loader is not None
browsing = importlib.util.module_from_spec(SPEC)
sys.modules[SPEC.name] = browsing  # its data classes look themselves up there
SPEC.loader.exec_module(browsing)


def busiest(schedule: Schedule) -> int:
    """The number in the plan of the fullest visit of the fullest day."""
    day = max(schedule.dates, key=lambda one: sum(len(visit.activities) for visit in schedule.on(one)))
    numbers = {id(visit): n for n, visit in enumerate(schedule.visits, 1)}
    return numbers[id(max(schedule.on(day), key=lambda visit: len(visit.activities)))]


def run_sheet(study: Study, schedule: Schedule, number: int) -> bytes:
    """The first page of that visit's run sheet, as it prints."""
    visit = schedule.visits[number - 1]
    wanted = Wanted(visit.date, None, visit.participant)
    for job in jobs(study, schedule, visit_plans(study), wanted, paper="a4"):
        if job.name.startswith("run-sheet"):
            return pages(job.make())[0]
    raise LookupError("the plan has no run sheet")


def settled(page: Page) -> None:
    """Wait until the page is drawn."""
    page.locator("h1").first.wait_for(timeout=60_000)
    page.evaluate("settled()")


def draw(folder: Path) -> None:
    """All pictures, into that folder."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as home:
        os.environ["XDG_STATE_HOME"] = home
        path = working_copy(ROOT / "demo_study", print)
        study = read_study(path)
        plan = in_force(path)
        assert plan is not None
        schedule = read_plan(plan, study)
        number = busiest(schedule)
        day = schedule.visits[number - 1].date.isoformat()
        (folder / "run-sheet.png").write_bytes(run_sheet(study, schedule, number))
        shots = (
            ("packed-day", f"schedule?day={day}&view=day&rows=device", 1280, 900),
            ("coordinator", f"schedule?day={day}&view=whole+plan&rows=participant", 1280, 900),
            ("technician", f"day?day={schedule.dates[-1].isoformat()}", 768, 1024),
            ("reader", "adherence", 1280, 900),
        )
        with browsing.serve(path, Path(home) / "app.log") as app, sync_playwright() as playwright:
            browser = playwright.chromium.launch(executable_path=browsing.CHROMIUM, args=browsing.ARGUMENTS)
            for name, address, width, height in shots:
                page = browser.new_page(viewport={"width": width, "height": height})
                page.add_init_script(browsing.SETTLED)
                page.goto(f"{app.url}/{address}")
                settled(page)
                page.screenshot(path=str(folder / f"{name}.png"))
                page.close()
            browser.close()


if __name__ == "__main__":
    draw(Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / ".images")
