"""How long `testday check` takes for each protocol of the library, start-up included.

    python tests/benchmarks/check_speed.py

Bar: 0.5 s each, median of five.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

PROTOCOLS = sorted((Path(__file__).parents[2] / "protocols").glob("*.yaml"))
MOST_S = 0.5
TIMES = 5


def seconds_of(path: Path) -> float:
    """Wall seconds of one run; it must find nothing wrong."""
    start = time.perf_counter()
    subprocess.run([sys.executable, "-m", "planner", "check", str(path)], check=True, capture_output=True)
    return time.perf_counter() - start


def main() -> bool:
    """Whether every protocol is checked in time; prints the table."""
    medians = {path.stem: statistics.median(seconds_of(path) for _ in range(TIMES)) for path in PROTOCOLS}
    for name, median_s in medians.items():
        print(f"{name:32}{median_s:6.2f} s")
    print(f"{'at most':32}{MOST_S:6.2f} s")
    return max(medians.values()) <= MOST_S


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
