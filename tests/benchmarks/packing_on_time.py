"""Places against windows kept: python tests/benchmarks/packing_on_time.py FOLDER [--seconds N] [--chance P].

FOLDER is a study folder. Its forced expirations and mouth pressures are given stop rules where their number
of efforts is fixed (3 to 8, two largest within 150 mL; 3 to 5, any 3 within 10 %), so that
lengths vary. The plain plan, the one held two minutes everywhere and `pack_on_time` stand side by side.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from pathlib import Path

from ruamel.yaml import YAML

from planner.packing.on_time import pack_on_time
from planner.packing.pack import pack
from planner.packing.play import play
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study

RULES = {
    "fvc": ({"at_least": 3, "at_most": 8}, "fvc", "4.5 L", "2 %", "0.150 L", 2),
    "mip": ({"at_least": 3, "at_most": 5}, "mip", "100 cmH2O", "5 %", "10 %", 3),
    "mep": ({"at_least": 3, "at_most": 5}, "mep", "120 cmH2O", "5 %", "10 %", 3),
}


def varied(folder: Path, to: Path) -> Path:
    """A copy of the study whose blocks end by a stop rule."""
    yaml = YAML()
    for file in folder.iterdir():
        (to / file.name).write_bytes(file.read_bytes())
    for file in to.glob("*.yaml"):
        read = yaml.load(file)
        for name, manoeuvre in (read.get("manoeuvres") or {}).items():
            if name in RULES and "enough" not in manoeuvre:
                efforts, reading, typical, spread, within, count = RULES[name]
                unit = typical.split()[1]
                manoeuvre["efforts"] = efforts
                manoeuvre["readings"] = {reading: {"unit": unit, "typical": typical, "spread": spread}}
                kind = "largest" if name == "fvc" else "any"
                manoeuvre["enough"] = [{"reading": reading, kind: count, "within": within}]
        yaml.dump(read, file)
    return to


def main() -> None:
    """Prints one line a way of packing."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=30)
    parser.add_argument("--chance", type=float, default=0.9)
    parser.add_argument("--late-sd", type=int, default=0, help="seconds")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        study = read_study(varied(given.folder, Path(temporary)))
        plans = visit_plans(study)
        now = min(study.open.values())[0].start
        ways = {
            "plain": lambda: pack(study, plans, seconds=given.seconds, now=now),
            "held 120 s": lambda: pack(study, plans, seconds=given.seconds, now=now, guard_s=120),
            "on time": lambda: pack_on_time(
                study, plans, chance=given.chance, seconds=given.seconds, now=now, version=1,
                late_sd_s=given.late_sd,
            ),
        }  # fmt: skip
        print("way         placed  all windows  least sure  ceiling  broken  seconds")
        for name, way in ways.items():
            began = time.monotonic()
            made = way()
            took = time.monotonic() - began
            odds = play(study, plans, made, late_sd_s=given.late_sd)
            least = min((v.all_windows for v in odds.visits), default=1.0)
            broken = len(verify(made, study, plans).broken)
            print(
                f"{name:11} {made.placed:6}  {odds.share:11.1%}  {least:10.1%}  {odds.ceiling:7.1%}"
                f"  {broken:6}  {took:7.1f}"
            )


if __name__ == "__main__":
    main()
