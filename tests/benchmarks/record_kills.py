"""Kill writers at 200 random points while efforts are entered, on both databases: none lost, none doubled.

python tests/benchmarks/record_kills.py [--kills 200] [--seed 1]
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
import tempfile
import time
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1]))


def module(path: Path) -> ModuleType:
    """A test module by its path: the benchmark and the test enter efforts in the same way."""
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    found = importlib.util.module_from_spec(spec)
    sys.modules[path.stem] = found
    spec.loader.exec_module(found)
    return found


def main() -> int:
    """Print a line for each database; 1 where something was lost, doubled or does not fit."""
    words = argparse.ArgumentParser()
    words.add_argument("--kills", type=int, default=200)
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    places = module(HERE / "record_places.py")
    killing = module(HERE.parent / "record" / "test_kill.py")
    failed = 0
    with tempfile.TemporaryDirectory(prefix="testday-kills-") as folder:
        for name, open_it in places.both(Path(folder)):
            began = time.perf_counter()
            found = killing.killed_at_random(open_it, asked.kills, asked.seed)
            failed += found["lost"] + found["doubled"] + found["half"] + found["problems"]
            figures = ", ".join(f"{key} {value}" for key, value in found.items())
            print(f"{name}: {asked.kills} kills, {figures}, {time.perf_counter() - began:.0f} s", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
