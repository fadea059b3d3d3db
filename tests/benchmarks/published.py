"""Published scheduling problems as plain data: how their files read, what is known of them, and the check.

Nothing here knows a solver or the product. A problem is a set of tasks; each has one or more ways to be
done (a length and what it takes of each resource) and there are least distances between starts, a greatest
distance being a least one backwards with a negative value.

Formats: ProGen/max `.sch`, PSPLIB `.sm` (Kolisch and Sprecher 1996), flexible job shops `.fjs` (Brandimarte
1993), job shops as pairs of machine and time; their meaning from memory, held by the published optima.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

Lag = tuple[int, int, int]  # from, to, least distance between their starts


@dataclass(frozen=True)
class Way:
    """One way to do a task: its length and what it takes of each resource (resource, amount)."""

    length: int
    takes: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Problem:
    """A problem with the least last end asked for. `chains` are the tasks of each job, in order."""

    group: str
    name: str
    tasks: tuple[tuple[Way, ...], ...]
    lags: tuple[Lag, ...]
    capacity: tuple[int, ...]
    chains: tuple[tuple[int, ...], ...]
    least: int | None = None  # published bounds of the last end; None: none known
    most: int | None = None
    is_impossible: bool = False


@dataclass(frozen=True)
class Timetable:
    """A solution: the start of each task and the number of its way."""

    starts: tuple[int, ...]
    ways: tuple[int, ...]


def last_end(problem: Problem, found: Timetable) -> int:
    """When the last task ends."""
    return max(
        s + problem.tasks[t][w].length for t, (s, w) in enumerate(zip(found.starts, found.ways, strict=True))
    )


def faults(problem: Problem, found: Timetable) -> list[str]:
    """Every rule that a solution breaks: starts, distances, order in a job, capacity at each moment."""
    starts, ways = found.starts, [problem.tasks[t][w] for t, w in enumerate(found.ways)]
    broken = [f"task {t} starts before 0" for t, start in enumerate(starts) if start < 0]
    broken += [f"{a} to {b}: {low}" for a, b, low in problem.lags if starts[b] - starts[a] < low]
    for chain in problem.chains:
        pairs = pairwise(chain)
        broken += [f"{a} before {b}" for a, b in pairs if starts[a] + ways[a].length > starts[b]]
    for resource, room in enumerate(problem.capacity):
        taken = [
            (start, start + way.length, amount)
            for start, way in zip(starts, ways, strict=True)
            for r, amount in way.takes
            if r == resource and way.length
        ]
        for moment, _, _ in taken:
            if sum(amount for a, b, amount in taken if a <= moment < b) > room:
                broken.append(f"resource {resource} at {moment}")
    return broken


def problems(folder: Path) -> Iterator[Problem]:
    """All problems of a folder that has `bounds.csv` and a folder for each kind of file."""
    with (folder / "bounds.csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["file"]]
    for row in rows:
        kind = row["set"].split("-")[0]
        read, suffix = READERS[kind]
        text = (folder / kind / row["file"]).read_text(encoding="utf-8")
        assert row["file"].endswith(suffix)
        least, most = _bounds(row["opt_or_lb"])
        other = row["second_source_or_ub"]
        yield read(
            text,
            group=row["set"],
            name=row["file"].removesuffix(suffix),
            least=least,
            most=int(other) if other.isdigit() else most,
            is_impossible=row["opt_or_lb"] == "unsat",
        )


def _bounds(text: str) -> tuple[int | None, int | None]:
    """`55`, `82..87`, `..96` or a word: least and greatest last end that are known."""
    least, _, most = text.partition("..")
    if ".." not in text:
        most = least
    return int(least) if least.isdigit() else None, int(most) if most.isdigit() else None


def _sch(text: str, **known: object) -> Problem:
    """ProGen/max: a line a task with its lags, then a line a task with its demands, then the capacities."""
    lines = [re.findall(r"-?\d+", line) for line in text.splitlines() if line.strip()]
    rows = [[int(word) for word in line] for line in lines]
    count = rows[0][0] + 2
    lags: list[Lag] = []
    for row in rows[1 : count + 1]:
        task, _, many, *rest = row
        lags += [(task, other, low) for other, low in zip(rest[:many], rest[many:], strict=True)]
    ways = [Way(row[2], _takes(row[3:])) for row in rows[count + 1 : 2 * count + 1]]
    return _single(ways, lags, rows[2 * count + 1], known)


def _sm(text: str, **known: object) -> Problem:
    """PSPLIB, one mode: successors, then lengths and demands, then capacities."""
    parts = re.split(r"^\*+\n", text, flags=re.MULTILINE)
    tables = {p.split("\n", 1)[0].rstrip(":"): p.split("\n")[1:] for p in parts if p.strip()}
    number = {
        k: [[int(w) for w in row.split()] for row in v if re.match(r"\s*\d", row)] for k, v in tables.items()
    }
    jobs = number["REQUESTS/DURATIONS"]
    ways = [Way(row[2], _takes(row[3:])) for row in jobs]
    lags = [
        (row[0] - 1, after - 1, ways[row[0] - 1].length)
        for row in number["PRECEDENCE RELATIONS"]
        for after in row[3 : 3 + row[2]]
    ]
    return _single(ways, lags, number["RESOURCEAVAILABILITIES"][0], known)


def _takes(amounts: Sequence[int]) -> tuple[tuple[int, int], ...]:
    return tuple((r, amount) for r, amount in enumerate(amounts) if amount)


def _single(ways: list[Way], lags: list[Lag], capacity: list[int], known: dict[str, object]) -> Problem:
    return Problem(
        tasks=tuple((w,) for w in ways), lags=tuple(lags), capacity=tuple(capacity), chains=(), **known
    )  # type: ignore[arg-type]


def _fjs(text: str, **known: object) -> Problem:
    """A flexible job shop: a line a job; each operation lists its machines (from 1) with their times."""
    (jobs, machines, *_), *rows = [
        [int(float(w)) for w in line.split()] for line in text.splitlines() if line.strip()
    ]
    return _shop([list(_operations(row)) for row in rows[:jobs]], machines, known)


def _operations(row: list[int]) -> Iterator[tuple[Way, ...]]:
    at = 1
    for _ in range(row[0]):
        pairs = row[at + 1 : at + 1 + 2 * row[at]]
        yield tuple(
            Way(time, ((machine - 1, 1),)) for machine, time in zip(pairs[::2], pairs[1::2], strict=True)
        )
        at += 1 + 2 * row[at]


def _jsp(text: str, **known: object) -> Problem:
    """A job shop: a line a job, pairs of machine (from 0) and time."""
    (jobs, machines), *rows = [[int(w) for w in line.split()] for line in text.splitlines() if line.strip()]
    lines = [list(zip(row[::2], row[1::2], strict=True)) for row in rows[:jobs]]
    return _shop([[(Way(time, ((m, 1),)),) for m, time in line] for line in lines], machines, known)


def _shop(jobs: list[list[tuple[Way, ...]]], machines: int, known: dict[str, object]) -> Problem:
    tasks = [ways for job in jobs for ways in job]
    chains, at = [], 0
    for job in jobs:
        chains.append(tuple(range(at, at + len(job))))
        at += len(job)
    return Problem(
        tasks=tuple(tasks),
        lags=(),
        capacity=(1,) * machines,
        chains=tuple(chains),
        **known,  # type: ignore[arg-type]
    )


READERS = {"rcpspmax": (_sch, ".sch"), "rcpsp": (_sm, ".sm"), "fjsp": (_fjs, ".fjs"), "jsp": (_jsp, ".txt")}
