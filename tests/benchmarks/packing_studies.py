"""Packs made-up studies of many visits and prints what was reached.

Run: python tests/benchmarks/packing_studies.py [60] [200] [1000] [rowing] [--seeds N]
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path

from planner.packing.pack import pack
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study

sys.path.insert(0, str(Path(__file__).parent))
from studies import write_rowing_study, write_study

SIZES = {60: (1, 8, 10.0), 200: (1, 22, 20.0), 1000: (4, 27, 60.0)}  # laboratories, weeks, seconds
ROWING = 60, 18, 6, 10.0  # participants, weeks, visits a day, seconds
HEAD = ("study", "seed", "placed", "last day", "bound", "status", "s", "judge s", "MB", "broken")


def line(name: str, seed: int) -> tuple[object, ...]:
    """One study packed and judged: the figures of one row."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "study"
        bar_s = _write(folder, name, seed)
        began = time.perf_counter()
        study = read_study(folder)
        plans = visit_plans(study)
        now = datetime.now(study.zone).replace(microsecond=0)
        made = pack(study, plans, seconds=bar_s - (time.perf_counter() - began), now=now)
        took = time.perf_counter() - began
        began = time.perf_counter()
        broken = verify(made, study, plans).broken
        judged = time.perf_counter() - began
    last = next((stage for stage in made.stages if stage.name == "last_day"), None)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    stage = (last.value, last.bound, last.status) if last else ("-", "-", "-")
    figures = f"{took:.1f}", f"{judged:.1f}", f"{memory:.0f}", len(broken)
    return name, seed, f"{made.placed}/{made.asked}", *stage, *figures


def _write(folder: Path, name: str, seed: int) -> float:
    """Writes the study of that name; the seconds that it may take."""
    if name == "rowing":
        participants, weeks, cap, bar_s = ROWING
        write_rowing_study(folder, participants=participants, weeks=weeks, cap=cap, seed=seed)
        return bar_s
    laboratories, weeks, bar_s = SIZES[int(name)]
    write_study(folder, participants=int(name), weeks=weeks, laboratories=laboratories, seed=seed)
    return bar_s


def main(wanted: list[str]) -> None:
    """Print a row a study and seed."""
    seeds = int(wanted[wanted.index("--seeds") + 1]) if "--seeds" in wanted else 1
    names = [word for word in wanted if word == "rowing" or (word.isdigit() and int(word) in SIZES)]
    print("  ".join(f"{word!s:>9}" for word in HEAD))
    for name in names or ["60", "rowing", "200"]:
        for seed in range(1, seeds + 1):
            print("  ".join(f"{word!s:>9}" for word in line(name, seed)), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
