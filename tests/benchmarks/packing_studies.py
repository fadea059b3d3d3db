"""Packs made-up studies of many visits and prints what was reached.

Run: python tests/benchmarks/packing_studies.py [60] [200] [1000]
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
from studies import write_study

SIZES = {60: (1, 8, 10.0), 200: (1, 22, 20.0), 1000: (4, 27, 60.0)}  # laboratories, weeks, seconds
HEAD = ("study", "placed", "last day", "bound", "status", "s", "judge s", "MB", "broken")


def line(people: int, seconds: float | None = None) -> tuple[object, ...]:
    """One study packed and judged: the figures of one row."""
    laboratories, weeks, bar_s = SIZES[people]
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "study"
        write_study(folder, participants=people, weeks=weeks, laboratories=laboratories)
        began = time.perf_counter()
        study = read_study(folder)
        plans = visit_plans(study)
        now = datetime.now(study.zone).replace(microsecond=0)
        made = pack(study, plans, seconds=seconds or bar_s, now=now)
        took = time.perf_counter() - began
        began = time.perf_counter()
        broken = verify(made, study, plans).broken
        judged = time.perf_counter() - began
    last = next((stage for stage in made.stages if stage.name == "last_day"), None)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    stage = (last.value, last.bound, last.status) if last else ("-", "-", "-")
    figures = f"{took:.1f}", f"{judged:.1f}", f"{memory:.0f}", len(broken)
    return f"{people} x 4", f"{made.placed}/{made.asked}", *stage, *figures


def main(wanted: list[int]) -> None:
    """Print a row a study."""
    print("  ".join(f"{word!s:>9}" for word in HEAD))
    for people in wanted:
        print("  ".join(f"{word!s:>9}" for word in line(people)), flush=True)


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [60, 200])
