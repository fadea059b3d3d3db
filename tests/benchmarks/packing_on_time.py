"""Places against windows kept: python tests/benchmarks/packing_on_time.py FOLDER ... [--seconds N].

Each FOLDER is a study folder. Its forced expirations and mouth pressures are given stop rules where their
number of efforts is fixed (3 to 8, two largest of FVC and FEV1 within 150 mL; 3 to 5, any 3 within 10 %), so
that lengths vary. Side by side, each plan through the judge and played 2000 times: packed without regard to
that, held two minutes before every windowed block, and packed for a chance. `ceiling` is what the
protocol itself allows, with the laboratory to each visit alone.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import astuple, dataclass, replace
from pathlib import Path

from ruamel.yaml import YAML

from planner.packing.on_time import pack_on_time
from planner.packing.pack import pack
from planner.packing.play import play
from planner.schedule.model import Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

READINGS = {
    "fvc": {"fvc": "4.5 L", "fev1": "3.6 L"},
    "mip": {"mip": "100 cmH2O"},
    "mep": {"mep": "120 cmH2O"},
}
RULES = {
    "fvc": ({"at_least": 3, "at_most": 8}, "2 %", "largest", 2, "0.150 L"),
    "mip": ({"at_least": 3, "at_most": 5}, "5 %", "any", 3, "10 %"),
    "mep": ({"at_least": 3, "at_most": 5}, "5 %", "any", 3, "10 %"),
}


@dataclass(frozen=True)
class Line:
    """What one way of packing gave on one seed."""

    way: str
    placed: int
    share: float
    least: float
    ceiling: float
    broken: int
    seconds: float
    cpu_s: float


def varied(folder: Path, to: Path) -> Path:
    """A copy of the study whose blocks end by a stop rule."""
    yaml = YAML()
    for file in folder.iterdir():
        (to / file.name).write_bytes(file.read_bytes())
    for file in to.glob("*.yaml"):
        read = yaml.load(file)
        for name, manoeuvre in (read.get("manoeuvres") or {}).items():
            if name in RULES and "enough" not in manoeuvre:
                efforts, spread, kind, count, within = RULES[name]
                manoeuvre["efforts"] = efforts
                manoeuvre["readings"] = {
                    reading: {"unit": typical.split()[1], "typical": typical, "spread": spread}
                    for reading, typical in READINGS[name].items()
                }
                manoeuvre["enough"] = [
                    {"reading": reading, kind: count, "within": within} for reading in READINGS[name]
                ]
        yaml.dump(read, file)
    return to


def lines(study: Study, given: argparse.Namespace) -> Iterator[Line]:
    """The ways of packing on one seed."""
    plans = visit_plans(study)
    now = min(study.open.values())[0].start
    common = {"seconds": given.seconds, "now": now}
    ways: dict[str, Callable[[], Schedule]] = {
        "plain": lambda: pack(study, plans, **common),
        "held 120 s": lambda: pack(study, plans, guard_s=120, **common),
        "on time": lambda: pack_on_time(
            study, plans, chance=given.chance, version=1, late_sd_s=given.late_sd, **common
        ),
    }
    for name, way in ways.items():
        began, worked = time.monotonic(), time.process_time()
        made = way()
        took, cpu_s = time.monotonic() - began, time.process_time() - worked
        odds = play(study, plans, made, late_sd_s=given.late_sd)
        least = odds.least.all_windows if odds.least else 1.0
        broken = len(verify(made, study, plans).broken)
        yield Line(name, made.placed, odds.share, least, odds.ceiling, broken, took, cpu_s)


def table(folder: Path, given: argparse.Namespace) -> None:
    """All seeds of one folder, and the median of each way."""
    found: dict[str, list[Line]] = {}
    with tempfile.TemporaryDirectory() as temporary:
        study = read_study(varied(folder, Path(temporary)))
        for seed in range(1, given.seeds + 1):
            for line in lines(replace(study, seed=seed), given):
                found.setdefault(line.way, []).append(line)
                print(_row(folder.name, str(seed), line), flush=True)
    for way, its in found.items():
        middle = [statistics.median(values) for values in zip(*(astuple(i)[1:] for i in its), strict=True)]
        print(_row(folder.name, "median", Line(way, *middle)), flush=True)


def _row(name: str, seed: str, line: Line) -> str:
    return (
        f"| {name} | {seed} | {line.way} | {line.placed:g} | {line.share:.1%} | {line.least:.1%} "
        f"| {line.ceiling:.1%} | {line.broken:g} | {line.seconds:.1f} | {line.cpu_s:.1f} |"
    )


def main() -> None:
    """Prints one line a way of packing and seed."""
    parser = argparse.ArgumentParser()
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--seconds", type=float, default=30)
    parser.add_argument("--chance", type=float, default=0.9)
    parser.add_argument("--late-sd", type=int, default=0, help="seconds")
    parser.add_argument("--seeds", type=int, default=5)
    given = parser.parse_args()
    print(
        "| day | seed | way | placed | all windows | least sure | ceiling | broken | seconds | processor s |"
    )
    print("|---|---|---|---|---|---|---|---|---|---|")
    for folder in given.folders:
        table(folder, given)


if __name__ == "__main__":
    main()
