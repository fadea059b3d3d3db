"""How soon a running day of 12 (and of 8) is mended, start-up included, and whether the fewest is proven.

    python tests/benchmarks/repack_speed.py [FOLDER ...]

Each trouble is told to the command itself, in a process of its own; the plan is the one in tests/data.
The bar: 12 visits in 5 s; 8 visits or fewer proven. Below it the days of the study FOLDERs are packed again
with a rig of each class away for an hour, and the busiest person, by the same stages, with the old plan as
hint and from scratch: seconds until the day is as good as what scratch ends with (nan: not in the same
time); the bar is 0.3 of scratch.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import datetime
from datetime import time as time_of_day
from pathlib import Path

from planner.packing.day import pack_day
from planner.packing.mend.study import with_troubles
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import DayProblem
from planner.packing.progress import Progress
from planner.schedule.model import PlacedVisit
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study

DATA = Path(__file__).parents[1] / "data"
DAY = "2027-03-01"
STAGES = ("placed", "waiting_s")
SIDE_S = 6.0  # for one day from scratch
Reached = tuple[int, int]
CASES = {
    "late 10 min": ["--late", "{late}=10"],
    "late 20 min": ["--late", "{late}=20"],
    "M1 out 11-12": ["--out-of-use", f"M1={DAY}T11:00/{DAY}T12:00"],
    "T3 away 14-15": ["--absent", f"T3={DAY}T14:00/{DAY}T15:00"],
    "cancelled": ["--cancelled", "{late}"],
    "bout 6 min longer": ["--ended", "{runs}/run={longer}"],
}


def main() -> None:
    """Print the table."""
    print(f"{'visits':>6} {'trouble':<18} {'s':>5}  placed  touched/bound  blocks/bound  missed  proven")
    with tempfile.TemporaryDirectory() as folder:
        for count in (12, 8):
            plan = _plan(count, Path(folder))
            for name, words in CASES.items():
                _one(count, name, words, plan)
    _side_by_side([Path(name) for name in sys.argv[1:]] or [DATA / "treadmill_day"], SIDE_S)


def _side_by_side(folders: list[Path], seconds: float) -> None:
    """Days with a rig or a person away for an hour: packed with the old plan as hint and from scratch."""
    print(f"\n{'day':<16} {'away':<12} {'seed':>4} {'scratch s':>9} {'hint s':>7} {'ratio':>6}", end="  ")
    print("placed  waiting min")
    ratios = []
    for folder in folders:
        study = read_study(folder)
        (day,) = study.open
        asked = tuple(v for its in study.asked.values() for v in its)
        plans = visit_plans(study)
        old = pack_day(DayProblem(study, plans, day, asked), seconds=seconds, stages=STAGES, seed=11)
        for who, out in _aways(study, old.visits, datetime.combine(day, time_of_day(), study.zone)):
            problem = DayProblem(with_troubles(study, out[0], out[1]), plans, day, asked)
            for seed in range(1, 4):
                scratch = _heard(problem, seconds, seed)
                goal = scratch[-1][1]
                took = next(at for at, reached in scratch if reached >= goal)
                hinted = _heard(problem, seconds, seed, old.visits, goal)
                soon = next((at for at, reached in hinted if reached >= goal), None)
                ratio = float("inf") if soon is None else soon / took
                ratios.append(ratio)
                print(
                    f"{folder.name:<16} {who:<12} {seed:>4} {took:>9.2f} {soon or float('nan'):>7.2f} "
                    f"{ratio:>6.2f}  {goal[0]:>6}  {-goal[1] / 60:>6.1f}",
                    flush=True,
                )
    quarters = statistics.quantiles(ratios, n=4)
    print(f"ratio: median {quarters[1]:.2f}, quarters {quarters[0]:.2f} to {quarters[2]:.2f}, ", end="")
    print(f"least {min(ratios):.2f}, most {max(ratios):.2f}; the bar is 0.3")


def _aways(
    study: Study, visits: Sequence[PlacedVisit], midnight: datetime
) -> Iterator[tuple[str, tuple[datetime, Troubles]]]:
    """The busiest rig of each class away from 11 to 12, and the busiest person from 14 to 15."""
    rigs = Counter(rig for visit in visits for a in visit.activities for rig in a.rigs)
    for kind in sorted({kind for rig in study.rigs for kind in rig.classes}):
        rig = max((r.id for r in study.rigs if kind in r.classes), key=lambda r: rigs[r])
        span = (rig, midnight.replace(hour=11), midnight.replace(hour=12))
        yield rig, (midnight, Troubles(out_of_use=(span,)))
    people = Counter(person for visit in visits for a in visit.activities for person in a.staff.values())
    person = people.most_common(1)[0][0]
    span = (person, midnight.replace(hour=14), midnight.replace(hour=15))
    yield person, (midnight, Troubles(absent=(span,)))


def _heard(
    problem: DayProblem,
    seconds: float,
    seed: int,
    hint: Sequence[PlacedVisit] = (),
    goal: Reached | None = None,
) -> list[tuple[float, Reached]]:
    """When each better day was there, in seconds from the start: visits placed, and minus their waiting."""
    began = time.monotonic()
    heard: list[tuple[float, Reached]] = []

    def tell(now: Progress) -> None:
        if now.stage == "waiting_s" and now.best is not None:
            heard.append((time.monotonic() - began, (now.placed, -now.best)))

    def is_enough() -> bool:
        return goal is not None and any(reached >= goal for _, reached in heard)

    pack_day(problem, seconds=seconds, stages=STAGES, seed=seed, hint=hint, progress=tell, stop=is_enough)
    return heard


def _plan(count: int, folder: Path) -> Path:
    """The day's first visits as a plan of their own."""
    plan = json.loads((DATA / "treadmill_day-plan.json").read_text("utf-8"))
    visits = sorted(plan["visits"], key=lambda visit: visit["start"])
    plan["visits"], left = visits[:count], visits[count:]
    plan["not_placed"] = [
        {"participant": v["participant"], "visit": v["visit"], "message": "left out"} for v in left
    ]
    plan["placed"], plan["status"], plan["stages"] = count, "feasible", []
    path = folder / f"plan-{count}.json"
    path.write_text(json.dumps(plan), encoding="utf-8")
    return path


def _one(count: int, name: str, words: list[str], path: Path) -> None:
    visits = json.loads(path.read_text("utf-8"))["visits"]
    now = f"{DAY}T11:00:00+01:00"
    late = next(v["participant"] for v in visits if v["start"] > now)
    runs, bout = next(
        (v["participant"], a)
        for v in visits
        for a in v["activities"]
        if a["step"] == "run" and a["end"] > now
    )
    longer = time.strftime(f"{DAY}T%H:%M:%S", time.gmtime(_seconds(bout["end"]) + 360))
    told = [word.format(late=late, runs=runs, longer=longer) for word in words]
    began = time.monotonic()
    done = subprocess.run(
        [
            *(sys.executable, "-m", "planner", "repack", str(DATA / "treadmill_day")),
            *("--plan", str(path), "--now", now, *told, "--json"),
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    seconds = time.monotonic() - began
    if done.returncode:
        print(f"{count:>6} {name:<18} {seconds:5.1f}  failed: {done.stderr.strip()[-200:]}")
        return
    plan = json.loads(done.stdout)
    stages = {stage["name"]: stage for stage in plan["stages"]}

    def pair(stage: str) -> str:
        return f"{stages[stage]['value']}/{stages[stage]['bound']}" if stage in stages else "-"

    proven = all(stage["status"] == "optimal" for key, stage in stages.items() if key != "placed")
    print(
        f"{count:>6} {name:<18} {seconds:5.1f}  {plan['placed']:>6}  {pair('participants_touched'):>13}  "
        f"{pair('blocks_changed'):>12}  {pair('demands_missed'):>6}  {'yes' if proven else 'no'}"
    )


def _seconds(moment: str) -> int:
    """Local seconds of the day of a written date-time."""
    hours, minutes, seconds = moment[11:19].split(":")
    return 3600 * int(hours) + 60 * int(minutes) + int(seconds)


if __name__ == "__main__":
    main()
