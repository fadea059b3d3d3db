"""How soon it is told why a study cannot be packed, start-up included: the bar for one day is 3 s.

    python tests/benchmarks/reasons_speed.py [SECONDS]

The studies are those of tests/packing/why/test_impossible.py, each given to the command itself in a process
of its own, with SECONDS to pack (60 unless told). `told`: the first line of the reasons, on either output;
`end`: the command has ended, with the best plan of those who fit.
"""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from types import ModuleType

TESTS = Path(__file__).parents[1]
HEAD = "cannot all be met"


def main() -> None:
    """Print the table."""
    seconds = sys.argv[1] if len(sys.argv) > 1 else "60"
    cases = _module()
    print(f"{'study':<38} {'told s':>7} {'end s':>6}  exit")
    told = []
    for spoil, _, _ in cases.CASES:
        lab = cases.Laboratory()
        spoil(lab)
        with tempfile.TemporaryDirectory() as folder:
            first, end, code = _pack(lab.write(Path(folder)), seconds)
        told.append(first)
        print(f"{spoil.__name__:<38} {first:>7.2f} {end:>6.1f}  {code}", flush=True)
    print(f"{'latest':<38} {max(told):>7.2f}")


def _module() -> ModuleType:
    path = TESTS / "packing" / "why" / "test_impossible.py"
    spec = importlib.util.spec_from_file_location("impossible", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["impossible"] = module
    spec.loader.exec_module(module)
    return module


def _pack(folder: Path, seconds: str) -> tuple[float, float, int]:
    """When the reasons were first told, when the command ended (seconds from its start), and its status."""
    began = time.monotonic()
    call = [sys.executable, "-m", "planner", "pack", str(folder), "--seconds", seconds]
    told: list[float] = []
    with subprocess.Popen(call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:

        def listen(lines: object) -> None:
            for line in lines:  # type: ignore[attr-defined]
                if HEAD in line and not told:
                    told.append(time.monotonic() - began)

        ears = [threading.Thread(target=listen, args=(s,)) for s in (process.stdout, process.stderr)]
        for ear in ears:
            ear.start()
        for ear in ears:
            ear.join()
    end = time.monotonic() - began
    return (told[0] if told else float("inf")), end, process.returncode


if __name__ == "__main__":
    main()
