"""Days packed against the clock: python tests/benchmarks/packing_days.py FOLDER [--seeds N] [--only TEXT].

FOLDER holds study folders of one day each. Every plan goes through the judge. The table shows value and
bound of the last stage on each seed, when the first plan was there, and the time in all, reading included.
"""

from __future__ import annotations

import argparse
import statistics
import time
from dataclasses import dataclass, replace
from pathlib import Path

from planner.packing.day import pack_day
from planner.packing.problem import DayProblem, DayResult
from planner.schedule.model import Outcome, Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study
from planner.timing.plan import Link, Moment, Point, VisitPlan, Why


@dataclass(frozen=True)
class Bar:
    """One line of the table: a day, its stages, how long it may take, and whether visits are rigid blocks."""

    day: str
    stages: tuple[str, ...]
    seconds: float
    rigid: bool = False


BARS = (
    Bar("day-6-mixed", ("placed",), 10),
    Bar("day-12-mixed", ("placed",), 20),
    Bar("day-18-mixed", ("placed",), 30),
    Bar("day-18-mixed", ("placed",), 120),
    Bar("day-18-mixed", ("placed",), 30, rigid=True),
    Bar("day-6-same", ("placed", "waiting_s"), 20),
    Bar("day-6-same", ("placed", "last_end_s"), 60),
    Bar("day-6-same", ("placed", "waiting_s", "last_end_s"), 60),
    Bar("day-12-same", ("placed", "waiting_s"), 60),
    Bar("day-12-same", ("placed", "last_end_s"), 60),
)


def problem_of(folder: Path, *, rigid: bool) -> DayProblem:
    """The one day of a study folder, with all its visits asked for."""
    study = read_study(folder)
    (day,) = study.open
    plans = {name: _rigid(plan) if rigid else plan for name, plan in visit_plans(study).items()}
    return DayProblem(study, plans, day, tuple(v for asked in study.asked.values() for v in asked))


def _rigid(plan: VisitPlan) -> VisitPlan:
    """The same visit as one rigid block: every activity where it is when the visit is alone."""
    links = [
        Link(Point(0, Moment.START), Point(a.index, Moment.START), start, start, Why.ORDER)
        for a, start in zip(plan.activities, plan.starts_s, strict=True)
        if a.index
    ]
    return replace(plan, links=(*plan.links, *links))


def broken(problem: DayProblem, result: DayResult) -> int:
    """How many rules the judge finds broken."""
    study = problem.study
    made = next(iter(study.open.values()))[0].start
    asked = len(problem.visits)
    schedule = Schedule(
        study.name,
        1,
        None,
        study.fingerprint,
        made,
        Outcome.FEASIBLE,
        asked,
        (),
        result.visits,
        result.rig_tasks,
    )
    verdict = verify(schedule, study, problem.plans)
    return sum(one.rule != "all-asked" for one in verdict.broken)


def line(bar: Bar, folder: Path, seeds: int) -> str:
    """One bar on all seeds, as a line of the table."""
    values, bounds, seconds, firsts, faults = [], [], [], [], 0
    for seed in range(1, seeds + 1):
        began = time.monotonic()
        problem = problem_of(folder / bar.day, rigid=bar.rigid)
        result = pack_day(problem, seconds=bar.seconds, stages=bar.stages, seed=seed)
        seconds.append(time.monotonic() - began)
        values.append(result.stages[-1].value)
        bounds.append(result.stages[-1].bound)
        firsts.append(result.first_s)
        faults += broken(problem, result)
    stages = " then ".join(bar.stages[1:] or bar.stages)
    name = f"{bar.day}{' rigid' if bar.rigid else ''}, {stages}, {bar.seconds:g} s"
    spread = f"{statistics.median(seconds):.1f} s ({min(seconds):.1f} to {max(seconds):.1f})"
    return (
        f"| {name} | {' '.join(map(str, values))} | {' '.join(map(str, bounds))} | {max(firsts):.2f} s "
        f"| {spread} | {faults} |"
    )


def main() -> None:
    """Prints the table, a line as soon as it is known."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    print("| day, stage, limit | values by seed | bounds | first plan | time: median (spread) | broken |")
    print("|---|---|---|---|---|---|")
    for bar in BARS:
        if asked.only in f"{bar.day} {bar.stages[-1]} {bar.seconds:g} {'rigid' if bar.rigid else ''}":
            print(line(bar, asked.folder, asked.seeds), flush=True)


if __name__ == "__main__":
    main()
