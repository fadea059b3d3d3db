"""How fast papers are made: sixty run sheets, and a study of 240 visits with everything.

Run it by hand: `python tests/benchmarks/document_speed.py`. It prints a table and leaves with 1 if a
bar is missed: sixty run sheets in 3 s after start-up, 240 visits with every document in 30 s.
"""

from __future__ import annotations

import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from planner.clock import Interval, at_clock, later, zone
from planner.documents.jobs import Wanted, jobs
from planner.documents.write import write
from planner.protocol.read import read_protocol
from planner.schedule.model import Activity, Outcome, PlacedVisit, PlacedWatch, Schedule
from planner.study.model import Person, Rig, Study, Visit, VisitKind
from planner.timing.lay_out import lay_out
from planner.timing.plan import VisitPlan

ROOT = Path(__file__).parents[2]
ZONE = zone("America/Halifax")
FILE = "cold-air-rowing.yaml"
SHEETS_BAR_S, STUDY_BAR_S = 3.0, 30.0
A_DAY = 6


def placed(plan: VisitPlan, participant: str, number: int, begins: datetime) -> PlacedVisit:
    """The visit as it is laid out alone, on the first rig of each class."""
    activities = []
    for a in plan.activities:
        start = later(begins, plan.starts_s[a.index])
        end = later(start, a.length_s)
        watch = (
            PlacedWatch(dict.fromkeys(a.watch.staff, "K1"), later(end, a.watch.for_s)) if a.watch else None
        )
        activities.append(
            Activity(
                step=a.step,
                at_s=a.at_s,
                manoeuvre=a.manoeuvre,
                rigs=tuple(f"{rig_class[:1].upper()}1" for rig_class in a.rigs),
                staff={role: f"K{n}" for n, role in enumerate(a.staff, 1)},
                start=start,
                first_effort=later(start, a.prepare_s) if a.manoeuvre else None,
                end=end,
                rig_free=later(end, a.clear.takes_s if a.clear else 0),
                planned_efforts=a.planned_efforts,
                watch=watch,
            )
        )
    return PlacedVisit(participant, "rowing", number, "cold air", tuple(activities))


def study_of(visits: int) -> tuple[Study, Schedule, dict[str, VisitPlan]]:
    """So many visits, four for each participant, six a day."""
    protocol = replace(read_protocol(ROOT / "protocols" / FILE), file=FILE)
    plan = lay_out(protocol, Decimal("0.8"))
    days = [date(2027, 3, 1) + timedelta(days=n) for n in range(visits // A_DAY)]
    codes = [f"ROW-{n:02}" for n in range(1, visits // 4 + 1)]
    conditions = tuple("abcd")
    asked = {c: tuple(Visit(c, "rowing", n, "a", FILE, None, None) for n in range(1, 5)) for c in codes}
    hours = {
        on: (
            Interval(
                at_clock(on, datetime.min.time().replace(hour=7), ZONE),
                at_clock(on, datetime.min.time().replace(hour=20), ZONE),
            ),
        )
        for on in days
    }
    classes = sorted({c for a in plan.activities for c in a.rigs})
    study = Study(
        name="speed",
        folder=Path(),
        zone=ZONE,
        plan_on=Decimal("0.8"),
        seed=1,
        kinds=(VisitKind("rowing", {"": FILE}, conditions, blind=True),),
        protocols={FILE: protocol},
        participants=tuple(codes),
        groups={},
        asked=asked,
        first_day=days[0],
        last_day=days[-1],
        open=hours,
        rigs=tuple(Rig(f"{c[:1].upper()}1", (c,)) for c in classes),
        people=tuple(Person(f"K{n}", ("lead", "operator", "cheek support"), hours, hours) for n in (1, 2, 3)),
        available={},
    )
    found = [
        placed(
            plan,
            codes[n % len(codes)],
            n // len(codes) + 1,
            at_clock(days[n // A_DAY], datetime.min.time().replace(hour=8 + n % A_DAY), ZONE),
        )
        for n in range(visits)
    ]
    made = datetime(2027, 2, 20, 14, 5, tzinfo=ZONE)
    schedule = Schedule("speed", 1, None, "", made, Outcome.FEASIBLE, visits, (), tuple(found))
    return study, schedule, {FILE: plan}


def main() -> int:
    """Print both figures; 1 where a bar is missed."""
    study, schedule, plans = study_of(240)
    sheets = [
        job for job in jobs(study, schedule, plans, Wanted(), paper="a4") if job.name.startswith("run-sheet")
    ][:61]
    sheets[0].make()  # start-up: faces are read once
    start = time.perf_counter()
    with ThreadPoolExecutor(2) as workers:
        made = list(workers.map(lambda job: job.make(), sheets[1:]))
    sheets_s = time.perf_counter() - start
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        paths = write(
            study, schedule, plans, Path(folder), progress=lambda step: print(step, file=sys.stderr)
        )
        study_s = time.perf_counter() - start
        size = sum(path.stat().st_size for path in paths) / 1e6
    print(f"{'what':44}{'seconds':>9}{'bar':>7}")
    print(f"{f'{len(made)} run sheets, {len(made[0]) // 1000} kB each':44}{sheets_s:9.2f}{SHEETS_BAR_S:7.0f}")
    print(f"{f'240 visits, {len(paths)} files, {size:.0f} MB':44}{study_s:9.2f}{STUDY_BAR_S:7.0f}")
    return 0 if sheets_s <= SHEETS_BAR_S and study_s <= STUDY_BAR_S else 1


if __name__ == "__main__":
    sys.exit(main())
