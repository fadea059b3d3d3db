"""How soon a running day of 12 (and of 8) is mended, start-up included, and whether the fewest is proven.

    python tests/benchmarks/repack_speed.py

Each trouble is told to the command itself, in a process of its own; the plan is the one in tests/data.
The bar: 12 visits in 5 s; 8 visits or fewer proven.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DATA = Path(__file__).parents[1] / "data"
DAY = "2027-03-01"
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
