"""The Test day page with 100 000 efforts in the record, in a browser: from the tap to the changed screen.

    python tests/benchmarks/day_large.py [--efforts 100000] [--postgres]

Bar: 0.3 s. A time ends when what the tap leads to can be seen. Half of the demo study is played into its
record, the rest of the efforts are of participants before it.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from app_driving import ROOT, chromium, click, copied, opened, watched
from playwright.sync_api import Page
from record_kills import module

from planner.clock import later
from planner.record.accounts import set_up
from planner.record.effort import VisitKey
from planner.record.engine import database_file, postgres_engine, schema_name
from planner.record.lines import Line
from planner.record.rehearse import rehearse
from planner.record.store import Store, open_store
from planner.schedule.in_force import in_force
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study

BAR_S = 0.3
# The buttons stand in a part of their own of the page. A time ends when what is looked for can be seen.
SEEN = """([wanted, patience]) => new Promise((done, failed) => {
  const began = performance.now();
  const buttons = () => [...document.querySelectorAll("*")]
    .flatMap(e => [...(e.shadowRoot?.querySelectorAll(".pad button") || [])]);
  const may = name => buttons().some(b => b.textContent === name && !b.disabled);
  const says = words => [...document.querySelectorAll("p, h3")].some(p => p.innerText.includes(words));
  const holds = new Function("may", "says", "return " + wanted);
  const look = () => {
    if (holds(may, says)) return done(performance.now() - window.seen.acted);
    if (performance.now() - began > patience) return failed(new Error("not seen: " + wanted));
    requestAnimationFrame(look);
  };
  look();
})"""
LOOKED_S = 5
PRESS = """name => {
  const pad = [...document.querySelectorAll("*")].map(e => e.shadowRoot?.querySelector(".pad")).find(Boolean);
  const one = [...pad.querySelectorAll("button")].find(b => b.textContent === name && !b.disabled);
  if (!one) throw new Error("nothing to press: " + name);
  one.click();
}"""


def before(study: Study, efforts: int) -> Iterator[Line]:
    """So many efforts of two readings each, of visits of 40 efforts before the study's own."""
    for number in range(efforts):
        visit = number // 40
        key = VisitKey(f"OLD-{1 + visit // 2:04d}", "rowing", 1 + visit % 2)
        started = later(datetime(2026, 3, 1, 9, 0, tzinfo=study.zone), number * 60)
        step, at_s = ("before", None) if number % 40 < 20 else ("after", 120)
        one = Line(key, step, at_s, "fvc", 1 + number % 20, "FVC", started, Decimal("4.80"), "L")
        yield one
        yield replace(one, reading="FEV1", value=Decimal("3.90"))


def fill(store: Store, schedule: Schedule, efforts: int) -> int:
    """Half of the study's visits played, and as many efforts before as are still lacking."""
    study = store.study
    half = schedule.dates[len(schedule.dates) // 2]
    played = [
        replace(line, note="") for line in rehearse(study, schedule, visit_plans(study), seed=1, until=half)
    ]
    known = len({line.line_key.of for line in played if not line.is_mark})
    assert not store.take(before(study, efforts - known), by="K1").refused
    assert not store.take(played, by="K1").refused
    return len(store.happened().efforts)


def next_visit(schedule: Schedule) -> tuple[int, str]:
    """A visit of the second half: its number in the plan and its day."""
    half = schedule.dates[len(schedule.dates) // 2 + 1]
    placed = schedule.on(half)[0]
    return schedule.visits.index(placed) + 1, half.isoformat()


def measure(address: str, schedule: Schedule) -> dict[str, list[float]]:
    """Seconds of each kind of tap."""
    number, day = next_visit(schedule)
    took: dict[str, list[float]] = {}
    with chromium() as browser:
        page = watched(browser)
        page.goto(f"{address}/day?day={day}&visit={number}&station=rig-1")
        page.get_by_role("combobox", name="Who records?").click()
        page.get_by_role("option").first.click()
        seen(page, "may('Started')")
        time.sleep(LOOKED_S)  # the server has just begun, and still reads ahead what other pages need
        _work(page, lambda what, seconds: took.setdefault(what, []).append(seconds))
    return took


def seen(page: Page, wanted: str) -> float:
    """Seconds from the last click until that can be seen."""
    return float(page.evaluate(SEEN, [wanted, 30_000])) / 1000


def press(page: Page, label: str, wanted: str) -> float:
    """The same from pressing a button for gloves."""
    page.wait_for_timeout(300)  # a person looks before the next tap
    page.evaluate(PRESS, label)
    return seen(page, wanted)


def _work(page: Page, keep: Callable[[str, float], None]) -> None:
    """Arrival, then efforts with their readings, and a note."""
    keep("task begun", press(page, "Started", "!may('Started') && may('Done')"))
    keep("task done", press(page, "Done", "may('Effort 1 started')"))
    for effort in range(1, 4):
        keep("effort started", press(page, f"Effort {effort} started", f"may('Effort {effort} done')"))
        keep("effort done", press(page, f"Effort {effort} done", f"says('Effort {effort}: what did')"))
        page.wait_for_timeout(500)
        for box in page.locator("input[type=number]:visible").all():
            box.fill("4.80" if str(box.get_attribute("aria-label")).startswith("FVC") else "3.90")
        click(page, "button", "Keep these readings")
        keep("readings kept", seen(page, f"says('Effort {effort} at') && !says('Effort {effort}: what did')"))
    page.get_by_label("Note", exact=True).fill("window opened")
    click(page, "button", "Keep note")
    keep("note kept", seen(page, "says(': window opened')"))


@contextmanager
def recorded_at(postgres: bool, study: Study) -> Iterator[Any]:
    """The server that the record stands on, set up for the study (None: SQLite beside the study)."""
    if not postgres:
        yield None
        return
    places = module(Path(__file__).with_name("record_places.py"))
    with tempfile.TemporaryDirectory() as home:
        for server in places.servers(Path(home)):
            set_up(study, server.owner, server.account)
            yield server


def _filled(study: Study, schedule: Schedule, efforts: int, server: Any) -> int:
    """The record filled; a filled SQLite record is kept beside the packed study for the next time."""
    kept = Path(tempfile.gettempdir()) / "testday-benchmarks" / f"record-{efforts}.sqlite3"
    there = database_file(study, rehearsed=False)
    if server is None and kept.exists():
        there.parent.mkdir(exist_ok=True)
        shutil.copyfile(kept, there)
    with open_store(study, url=server and server.app) as store:
        held = len(store.happened().efforts) or fill(store, schedule, efforts)
    if server is None and not kept.exists():
        shutil.copyfile(there, kept)
    if server is not None:
        _counted(study, server)
    return held


def _counted(study: Study, server: Any) -> None:
    """The server counts its rows, as it does by itself each minute where many have come."""
    engine = postgres_engine(server.owner, schema_name(study, rehearsed=False))
    with engine.begin() as connection:
        connection.exec_driver_sql("ANALYZE event, content")
    engine.dispose()


def main() -> int:
    """Print a line for each kind of tap; 1 where a median is over the bar."""
    words = argparse.ArgumentParser()
    words.add_argument("--efforts", type=int, default=100_000)
    words.add_argument("--postgres", action="store_true")
    asked = words.parse_args()
    with copied(ROOT / "demo_study") as folder:
        words_of_it = (folder / "study.yaml").read_text("utf-8")
        (folder / "study.yaml").write_text(words_of_it.replace("demo: true", "demo: false"), "utf-8")
        study = read_study(folder)
        path = in_force(folder)
        assert path is not None
        schedule = read_plan(path, study)
        with recorded_at(asked.postgres, study) as server:
            if server:
                os.environ["TESTDAY_RECORD_URL"] = server.app
            began = time.perf_counter()
            held = _filled(study, schedule, asked.efforts, server)
            print(f"{held} efforts in the record, filled in {time.perf_counter() - began:.0f} s", flush=True)
            with opened(folder) as (_, address, _):
                took = measure(address, schedule)
    for what, seconds in took.items():
        print(
            f"{what:<20} median {statistics.median(seconds):.2f} s, at most {max(seconds):.2f} s", flush=True
        )
    return 1 if any(statistics.median(seconds) > BAR_S for seconds in took.values()) else 0


if __name__ == "__main__":
    sys.exit(main())
