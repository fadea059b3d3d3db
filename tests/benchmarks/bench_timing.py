"""How fast timing is, side by side in one run: `python tests/benchmarks/bench_timing.py [--quick]`.

The model: three manoeuvres of three to eight efforts, six time points after a bout. The same visit is
played by the product, by a process simulation (SimPy), and by drawing its random numbers alone. Each
answer is checked before its time counts. Exit status 1 where a bar is missed.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from pathlib import Path

import numpy as np
import simpy

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from planner.protocol.agreement import ended_after  # noqa: E402
from planner.protocol.model import Length, Protocol, Step  # noqa: E402
from planner.protocol.read import read_protocol  # noqa: E402
from planner.timing.efforts import Spread, draw_ends  # noqa: E402
from planner.timing.lay_out import planned_efforts  # noqa: E402
from planner.timing.network import contradictions  # noqa: E402
from planner.timing.simulate import chunks, simulate  # noqa: E402
from planner.timing.single_block import ended_by_rule  # noqa: E402

MODEL = """
format: 1
name: bench
title: Three manoeuvres at six time points
version: "1.0"
manoeuvres:
  fvc:
    {title: FVC, rig: s, prepare: 60 s, effort: 20 s, rest: 30 s, efforts: {at_least: 3, at_most: 8},
     enough: {reading: R, largest: 2, within: 0.150 L},
     readings: {R: {unit: L, typical: 4.80 L, spread: 2 %}}}
  mip:
    {title: MIP, rig: m, prepare: 45 s, effort: 10 s, rest: 30 s, efforts: {at_least: 3, at_most: 8},
     enough: {reading: R, any: 3, within: 10 %},
     readings: {R: {unit: cmH2O, typical: -100 cmH2O, spread: 5 %}}}
  mep: {like: mip, readings: {R: {unit: cmH2O, typical: 140 cmH2O, spread: 5 %}}}
visit:
  - {id: row, title: Row, exercise: true, takes: {about: 18 min, shortest: 8 min, longest: 30 min},
     staff: [a, b], watch: {staff: [a], for: 5 min}}
  - {id: after, title: After, measure: [fvc, mip, mep],
     due: {after: row, at: [2 min, 15 min, 30 min, 45 min, 60 min, 90 min], late: 1 min}}
"""


def read(text: str) -> Protocol:
    """The protocol of that text."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "protocol.yaml"
        path.write_text(text, encoding="utf-8")
        return read_protocol(path)


def rate(work: Callable[[int], object], visits: int, turns: int) -> float:
    """Visits a second, the best of some turns."""
    best = 0.0
    for _ in range(turns):
        start = time.perf_counter()
        work(visits)
        best = max(best, visits / (time.perf_counter() - start))
    return best


def played_as_a_process(protocol: Protocol, visits: int) -> list[tuple[float, bool]]:
    """The same visits, one by one, in a process simulation: length, and whether the second time was kept."""
    rng = np.random.Generator(np.random.PCG64(5))
    found: list[tuple[float, bool]] = []
    for _ in range(visits):
        env = simpy.Environment()
        kept: list[bool] = []
        env.process(_visit(env, protocol, rng, kept))
        env.run()
        found.append((env.now, kept[1]))
    return found


def _visit(env, protocol, rng, kept):  # type: ignore[no-untyped-def]
    row, after = protocol.visit
    takes = row.takes
    yield env.timeout(rng.triangular(takes.shortest_s, takes.about_s, takes.longest_s))
    ended = env.now
    first = protocol.manoeuvres[after.measure[0]]
    for point in after.due.time_points:
        yield env.timeout(max(0.0, ended + point.at_s - first.prepare_s - env.now))
        kept.append(env.now + first.prepare_s <= ended + point.at_s + point.late_s)
        for name in after.measure:
            yield env.process(_block(env, protocol.manoeuvres[name], rng))


def _block(env, manoeuvre, rng):  # type: ignore[no-untyped-def]
    yield env.timeout(manoeuvre.prepare_s)
    reading = manoeuvre.readings["R"]
    level, (line,) = abs(float(reading.typical.value)), manoeuvre.enough
    sd, share = level * float(reading.spread.value) / 100, float(line.within[0].value)
    values: list[float] = []
    for effort in range(1, manoeuvre.at_most + 1):
        yield env.timeout(manoeuvre.effort_s)
        values.append(rng.normal(level, sd))
        values.sort(reverse=True)
        if effort >= manoeuvre.at_least and _agree(line, values, share):
            break
        if effort < manoeuvre.at_most:
            yield env.timeout(manoeuvre.rest_s)


def _agree(line, values, width):  # type: ignore[no-untyped-def]
    if line.kind == "largest":
        return values[0] - values[line.count - 1] <= width
    return any(
        values[i] - values[i + line.count - 1] <= width / 100 * values[i]
        for i in range(len(values) - line.count + 1)
    )


def on_time(protocol: Protocol, visits: int) -> list[int]:
    """How many of the visits kept each time point."""
    parts = chunks(protocol, draws=visits, workers=2)
    return [int(kept) for kept in sum(part.on_time.sum(axis=1) for part in parts)]


def bare_random(visits: int) -> None:
    """The normal numbers that the visits need at most, and one triangle each, on two cores."""
    chunk = 8_192

    def draw(seed: np.random.SeedSequence) -> None:
        rng = np.random.Generator(np.random.PCG64(seed))
        rng.triangular(480, 1080, 1800, chunk)
        for _ in range(18):
            rng.standard_normal((8, chunk))

    with ThreadPoolExecutor(2) as pool:
        list(pool.map(draw, np.random.SeedSequence(1).spawn(-(-visits // chunk))))


def thousand_steps() -> Protocol:
    """A visit of 1000 steps, time points after each bout, with bouts of unknown length."""
    protocol = read(MODEL)
    due = protocol.visit[1].due
    steps: list[Step] = []
    for number in range(250):
        takes = Length(1080, 480, 1800)
        steps += [
            Step(f"row-{number}", "Row", takes=takes, exercise=True),
            _after(protocol.visit[1], f"after-{number}", f"row-{number}", due, 2),
            Step(f"task-{number}", "Task", takes=Length(60, 60, 60), starts_within_s=600),
            Step(f"rest-{number}", "Rest", rest_s=120),
        ]
    return Protocol("long", "Long", "1", (), protocol.manoeuvres, tuple(steps), file="long.yaml")


def _after(step, name, anchor, due, points):  # type: ignore[no-untyped-def]
    from dataclasses import replace

    return replace(step, id=name, due=replace(due, anchor=anchor, time_points=due.time_points[:points]))


def seconds(work: Callable[[], object], turns: int = 3) -> float:
    """The best time of some turns."""
    best = float("inf")
    for _ in range(turns):
        start = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - start)
    return best


def check_command(path: Path) -> float:
    """Processor seconds of `testday check` on that file, start-up included.

    On an idle machine the clock shows the same; on a shared one it counts others' work as well.
    """
    command = [sys.executable, "-m", "planner", "check", str(path)]
    best = float("inf")
    for _ in range(3):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command, cwd=ROOT, check=False, capture_output=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best = min(best, after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    return best


def rows(quick: bool) -> list[tuple[str, float, str, float, bool]]:
    """Name, figure, unit, bar, whether a larger figure is better."""
    protocol = read(MODEL)
    visits = 100_000 if quick else 1_000_000
    process_visits = 300 if quick else 3_000
    process = played_as_a_process(protocol, process_visits)
    _answers_agree(protocol, process)
    simpy_rate = rate(lambda n: played_as_a_process(protocol, n), process_visits, 2)
    own = rate(lambda n: on_time(protocol, n), visits, 3)
    bare = rate(bare_random, visits, 3)
    fvc = protocol.manoeuvres["fvc"]
    spreads = {"R": Spread(4.8, 0.096)}
    _block_agrees(protocol)
    long = thousand_steps()
    assert contradictions(long) == ()
    planned = seconds(lambda: planned_efforts(protocol, Decimal("0.8")))
    protocols = sorted((ROOT / "protocols").glob("*.yaml"))
    return [
        ("visits a second, process simulation", simpy_rate, "/s", 0, True),
        ("visits a second, here", own, "/s", 0, True),
        ("times the process simulation", own / simpy_rate, "x", 100, True),
        ("visits a second, random numbers alone", bare, "/s", 0, True),
        ("share of random numbers alone", own / bare, "", 0.5, True),
        ("one block by quadrature", seconds(lambda: ended_by_rule(fvc, spreads)) * 1000, "ms", 100, False),
        ("planned efforts of the visit", planned * 1000, "ms", 500, False),
        ("contradictions of 1000 steps", seconds(lambda: contradictions(long)), "s", 1, False),
        *((f"check {path.name}", check_command(path), "s", 0.5, False) for path in protocols),
    ]


def _answers_agree(protocol: Protocol, process: list[tuple[float, bool]]) -> None:
    draws = simulate(protocol, draws=60_000)
    lengths = np.array([length for length, _ in process])
    error = 4 * lengths.std() / len(process) ** 0.5
    assert abs(draws.visit_s.mean() - lengths.mean()) < error, (draws.visit_s.mean(), lengths.mean())
    share = np.mean([kept for _, kept in process])
    chance = draws.chance(1)
    assert chance is not None
    assert abs(chance.share - share) < 0.01 + 4 * (share * (1 - share) / len(process)) ** 0.5


def _block_agrees(protocol: Protocol) -> None:
    fvc = protocol.manoeuvres["fvc"]
    found = ended_by_rule(fvc, {"R": Spread(4.8, 0.096)})
    rng = np.random.Generator(np.random.PCG64(9))
    ends = draw_ends(fvc, 200_000, rng, {"R": Spread(4.8, 0.096)})
    for number, share in found.items():
        assert abs(share - float((ends.agreed & (ends.efforts <= number)).mean())) < 0.005
    values = rng.normal(4.8, 0.096, (2000, 8))
    written = [[{"R": Decimal(str(round(value, 6)))} for value in row] for row in values]
    slow = np.mean([ended_after(fvc, row) == 3 for row in written])
    assert abs(found[3] - slow) < 0.05


def main() -> int:
    """Print the table; 1 where a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer visits")
    missed = 0
    for name, figure, unit, bar, larger in rows(parser.parse_args().quick):
        kept = bar == 0 or (figure >= bar if larger else figure <= bar)
        missed += not kept
        asked = "" if bar == 0 else f"{'>=' if larger else '<='} {bar:g}"
        verdict = "" if bar == 0 else "kept" if kept else "MISSED"
        print(f"{name:42} {figure:14,.3f} {unit:4} {asked:10} {verdict}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
