"""The same visits interleaved and as rigid blocks: python tests/benchmarks/packing_rigid.py FOLDER.

FOLDER holds study folders of one day each. A rigid visit keeps every activity where it is when the visit
has the laboratory alone, as a booking in one piece would; rigs and people still serve others between its
blocks. Both are packed for as long, go through the judge, and stand in one line with what was won.
"""

from __future__ import annotations

import argparse
import statistics
from pathlib import Path

from packing_days import broken, problem_of

from planner.packing.day import pack_day

DAYS = ("day-18-mixed", "day-18-same")


def placed(folder: Path, seconds: float, seed: int, *, rigid: bool) -> tuple[int, int, int]:
    """Visits placed, their bound, and rules broken."""
    problem = problem_of(folder, rigid=rigid)
    result = pack_day(problem, seconds=seconds, stages=("placed",), seed=seed)
    return len(result.visits), result.stages[-1].bound, broken(problem, result)


def main() -> None:
    """Prints a line a day and seed, and one of all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--seconds", type=float, default=30)
    parser.add_argument("--days", nargs="+", default=DAYS)
    given = parser.parse_args()
    print("| day | seed | rigid blocks (at most) | interleaved (at most) | more visits | broken |")
    print("|---|---|---|---|---|---|")
    gains = []
    for day in given.days:
        for seed in range(1, given.seeds + 1):
            rigid, rigid_most, one = placed(given.folder / day, given.seconds, seed, rigid=True)
            free, free_most, other = placed(given.folder / day, given.seconds, seed, rigid=False)
            gains.append(free / rigid - 1)
            print(
                f"| {day} | {seed} | {rigid} ({rigid_most}) | {free} ({free_most}) | {gains[-1]:+.0%} "
                f"| {one + other} |",
                flush=True,
            )
    print(f"| all | median | | | {statistics.median(gains):+.0%}, least {min(gains):+.0%} | |")


if __name__ == "__main__":
    main()
