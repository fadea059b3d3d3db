"""A hundred thousand mutated protocol files: no traceback, no file over 2 s, no more than 500 MB.

    python tests/benchmarks/fuzz_protocols.py [COUNT [SEED]]

What is valid goes on to the contradictions and to the layout, as `testday check` does.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
import traceback
from collections import Counter
from decimal import Decimal
from pathlib import Path

from planner.faults import FaultyInput
from planner.protocol.read import read_protocol
from planner.timing.lay_out import lay_out
from planner.timing.network import contradictions

sys.path.insert(0, str(Path(__file__).parents[1] / "protocol"))  # the mutator stands beside its test
from mutate import mutants

MOST_S = 2.0
MOST_MB = 500


def outcome_of(path: Path) -> str:
    """What became of the file, in a word."""
    try:
        protocol = read_protocol(path)
    except FaultyInput as faulty:
        return "faults" if faulty.faults else "SILENT"
    if contradictions(protocol):
        return "contradictory"
    lay_out(protocol, Decimal("0.8"))
    return "valid"


def run(count: int, seed: int) -> bool:
    """Whether every mutant was dealt with in time; prints the table."""
    outcomes: Counter[str] = Counter()
    worst_s, start = 0.0, time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "mutant.yaml"
        for data in mutants(seed, count):
            path.write_bytes(data)
            began = time.perf_counter()
            try:
                outcomes[outcome_of(path)] += 1
            except Exception:  # the very thing this looks for
                outcomes["TRACEBACK"] += 1
                Path(f"crash-{outcomes['TRACEBACK']}.yaml").write_bytes(data)
                traceback.print_exc()
            worst_s = max(worst_s, time.perf_counter() - began)
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    for word, number in outcomes.most_common():
        print(f"{word:16}{number:>9}")
    print(f"{'files':16}{count:>9}  in {time.perf_counter() - start:.0f} s")
    print(f"{'slowest file':16}{worst_s:>9.3f} s  (at most {MOST_S:g})")
    print(f"{'peak memory':16}{most_mb:>9.0f} MB (at most {MOST_MB})")
    return not (outcomes["TRACEBACK"] or outcomes["SILENT"] or worst_s > MOST_S or most_mb > MOST_MB)


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:]] + [100_000, 1][len(sys.argv) - 1 :]
    sys.exit(0 if run(numbers[0], numbers[1]) else 1)
