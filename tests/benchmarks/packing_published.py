"""Published problems, ours beside PyJobShop: packing_published.py FOLDER [--limit S] [--only TEXT].

FOLDER holds `bounds.csv` and the folders it names (the set with minimum and maximum time lags states no
licence and is not kept here). Both solve each problem one after the other in this run, on the same OR-Tools,
with the same workers, limit and seed; who is first alternates. Every solution is checked by plain Python
(`published.faults`), and every end and bound against the published ones. A problem that is not decided counts
the time it took. `--each` shows every problem; needs `pip install -e '.[bench]'`.
"""

from __future__ import annotations

import argparse
import math
import statistics
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import published_ours
import published_rival
from published import Problem, Timetable, faults, last_end, problems

Outcome = tuple[Timetable | None, int | None, str]
Solver = Callable[..., Outcome]
SOLVERS: dict[str, Solver] = {"ours": published_ours.solve, "other": published_rival.solve}
SETS = {"rcpspmax": "time lags", "jsp": "job shops", "fjsp": "flexible job shops", "rcpsp": "projects"}


@dataclass(frozen=True)
class Result:
    """One run on one problem: how it ended, how long it took, and what was wrong with it."""

    problem: Problem
    seed: int
    ended: str
    end: int | None
    bound: int | None
    seconds: float
    wrong: tuple[str, ...]

    @property
    def is_decided(self) -> bool:
        """Whether the least last end, or that there is none, is proven."""
        return self.ended in ("optimal", "impossible")


def one(solver: Solver, problem: Problem, *, limit: float, workers: int, seed: int) -> Result:
    """One run, timed from the problem's data to the answer in hand; the check is not timed."""
    began = time.perf_counter()
    found, bound, ended = solver(problem, seconds=limit, workers=workers, seed=seed)
    seconds = time.perf_counter() - began
    end = last_end(problem, found) if found else None
    wrong = tuple(faults(problem, found)) if found else ()
    return Result(
        problem, seed, ended, end, bound, seconds, (*wrong, *_against_published(problem, ended, end, bound))
    )


def _against_published(problem: Problem, ended: str, end: int | None, bound: int | None) -> Iterator[str]:
    """Where an end or a bound is on the wrong side of a published one."""
    if problem.is_impossible and end is not None:
        yield "a solution of a problem that has none"
    if not problem.is_impossible and ended == "impossible":
        yield "called impossible"
    if end is not None and problem.least is not None and end < problem.least:
        yield f"ends at {end}, below the published {problem.least}"
    if bound is not None and problem.most is not None and bound > problem.most:
        yield f"bound {bound} above the published {problem.most}"
    if ended == "optimal" and problem.most is not None and end is not None and end > problem.most:
        yield f"{end} called optimal, above the published {problem.most}"
    if ended == "optimal" and end != bound:
        yield f"optimal with {end} and bound {bound}"


def ratio(pairs: list[tuple[Result, Result]]) -> float:
    """The geometric mean of our time by the other's."""
    return math.exp(statistics.fmean(math.log(a.seconds / b.seconds) for a, b in pairs))


def line(name: str, pairs: list[tuple[Result, Result]]) -> str:
    """A set as a line of the table: decided, times, and the ratio with its spread over the seeds."""
    seeds = sorted({a.seed for a, _ in pairs})
    by_seed = [ratio([pair for pair in pairs if pair[0].seed == seed]) for seed in seeds]
    lost = sorted({a.problem.name for a, b in pairs if a.seconds > b.seconds})
    cells = [f"{name}: {len(pairs) // len(seeds)}"]
    for side in (0, 1):
        its = [pair[side] for pair in pairs]
        mean = math.exp(statistics.fmean(math.log(r.seconds) for r in its))
        worst = max(r.seconds for r in its)
        cells.append(f"{sum(r.is_decided for r in its)}/{len(its)}, {mean:.4f} s (worst {worst:.3f})")
    cells.append(f"{ratio(pairs):.2f} ({' '.join(f'{r:.2f}' for r in by_seed)})")
    cells.append(str(sum(bool(r.wrong) for pair in pairs for r in pair)))
    cells.append(" ".join(lost) or "none")
    return f"| {' | '.join(cells)} |"


def compare(chosen: list[Problem], *, limit: float, workers: int, seeds: int, each: bool) -> None:
    """Runs all and prints the table."""
    for solver in SOLVERS.values():  # the first run of each pays for loading the library; it is not counted
        one(solver, chosen[0], limit=limit, workers=workers, seed=1)
    groups: dict[tuple[str, bool], list[tuple[Result, Result]]] = defaultdict(list)
    for seed in range(1, seeds + 1):
        for number, problem in enumerate(chosen):
            order = list(SOLVERS) if (number + seed) % 2 else list(reversed(SOLVERS))
            done = {
                name: one(SOLVERS[name], problem, limit=limit, workers=workers, seed=seed) for name in order
            }
            pair = (done["ours"], done["other"])
            groups[SETS[problem.group.split("-")[0]], problem.is_impossible].append(pair)
            for name, result in done.items():
                for fault in result.wrong:
                    print(f"WRONG {problem.name} {name} seed {seed}: {fault}", flush=True)
            if each:
                print(_each(problem, *pair), flush=True)
    print("| problems | ours: decided, geometric mean | PyJobShop | ratio (by seed) | wrong | slower on |")
    print("|---|---|---|---|---|---|")
    for (name, impossible), pairs in groups.items():
        print(line(f"{name}, {'impossible' if impossible else 'feasible'}", pairs))
    feasible = [pair for (_, impossible), pairs in groups.items() if not impossible for pair in pairs]
    if feasible:
        print(line("all feasible", feasible))


def _each(problem: Problem, ours: Result, other: Result) -> str:
    known = "none" if problem.is_impossible else f"{problem.least}..{problem.most}"
    sides = [f"{r.ended} {r.end} >= {r.bound} {r.seconds:.3f} s" for r in (ours, other)]
    return f"{problem.name} seed {ours.seed} [{known}] ours: {sides[0]}; PyJobShop: {sides[1]}"


def main() -> None:
    """Reads the arguments, says what runs, and compares."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--limit", type=float, default=10)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument(
        "--only", default="", help="sets or problems whose name holds one of these, by commas"
    )
    parser.add_argument("--each", action="store_true")
    asked = parser.parse_args()
    wanted = asked.only.split(",")
    chosen = [
        p
        for p in problems(asked.folder)
        if any(word in f"{p.group} {p.name}" for word in wanted)
        and (asked.only or not p.group.startswith("rcpsp-"))
    ]
    print(
        f"OR-Tools {version('ortools')}, PyJobShop {version('pyjobshop')}, {asked.workers} workers, ", end=""
    )
    print(f"{asked.limit:g} s, seeds 1 to {asked.seeds}, {len(chosen)} problems", flush=True)
    compare(chosen, limit=asked.limit, workers=asked.workers, seeds=asked.seeds, each=asked.each)


if __name__ == "__main__":
    main()
