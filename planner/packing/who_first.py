"""Which of two comes first, where they cannot overlap: decided by distances alone, before any solver.

Two uses of one rig or person follow each other. Where the distances leave room for only one of the two
orders, that order holds, and makes further distances longer; where they leave room for neither, the visits
that must come do not fit together. (Immediate selection, Carlier and Pinson 1989, on networks with greatest
distances as well; from memory.)
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from planner.packing.core import Core, Gap, Job, Use, Wants, stretched

NONE = -(1 << 40)  # no distance at all; anything below half of it counts as none
Matrix: TypeAlias = NDArray[np.int64]


class Apart(NamedTuple):
    """Two uses that cannot overlap, by the moments between which they lie.

    Either start of `other_start` - start of `one_end` >= `one_first`, or start of `one_start` - start of
    `other_end` >= `other_first`.
    """

    one_start: int
    one_end: int
    other_start: int
    other_end: int
    one_first: int
    other_first: int


@dataclass(frozen=True)
class Network:
    """Moments, least and greatest distances between them, and pairs that cannot overlap; 0 is the opening."""

    count: int
    gaps: tuple[Gap, ...]
    apart: tuple[Apart, ...]


def network_of(core: Core) -> Network:
    """The visits of a day that must come: a moment for the start of each activity, job after job.

    Choices among several rigs or people, watches, and blocks that a bout's own rig may serve are left out:
    what follows holds all the more with them.
    """
    gaps: list[Gap] = []
    stretches: dict[int, list[tuple[int, int, int, int]]] = defaultdict(list)
    count = 1
    for job, uses in zip(core.jobs, core.uses, strict=True):
        if not (job.must and job.within and job.starts):
            continue
        gaps += _gaps(job, count)
        for use in uses:
            if len(use.choices) == 1 and core.resources[use.choices[0]].many == 1 and _excludes(use):
                stretches[use.choices[0]].append(_stretch(job, use, count))
        count += len(job.lengths)
    apart = tuple(_apart(a, b) for its in stretches.values() for a, b in combinations(its, 2))
    return Network(count, tuple(gaps), apart)


def _gaps(job: Job, at: int) -> list[Gap]:
    """The job's own distances, and those from the opening."""
    own = [Gap(at + gap.earlier, at + gap.later, gap.low, gap.high) for gap in stretched(job)]
    opens = max(min(begin for begin, _ in job.within), min(low for low, _ in job.starts))
    closes = max(end for _, end in job.within)
    latest = min(closes, max(high for _, high in job.starts))
    ends = closes - job.lengths[job.last]
    return [*own, Gap(0, at + job.first, opens, latest), Gap(0, at + job.last, opens, ends)]


def _excludes(use: Use) -> bool:
    return use.wants is not Wants.WATCH and use.bout is None


def _stretch(job: Job, use: Use, at: int) -> tuple[int, int, int, int]:
    """Where a use begins and ends: a moment and what to add to it, twice."""
    if use.from_end:
        end = job.lengths[use.first]
        return at + use.first, end, at + use.first, end + use.tail
    return at + use.first, -use.lead, at + use.last, job.lengths[use.last] + use.tail


def _apart(one: tuple[int, int, int, int], other: tuple[int, int, int, int]) -> Apart:
    return Apart(one[0], one[2], other[0], other[2], one[3] - other[1], other[3] - one[1])


def settle(network: Network) -> Matrix | None:
    """All least distances that follow, row to column (below NONE / 2: none); None: nothing can be kept."""
    least = np.full((network.count, network.count), NONE, dtype=np.int64)
    np.fill_diagonal(least, 0)
    for earlier, later, low, high in network.gaps:
        least[earlier, later] = max(least[earlier, later], low)
        if high is not None:
            least[later, earlier] = max(least[later, earlier], -high)
    for middle in range(network.count):
        if least[middle, middle] > 0:
            return None
        np.maximum(least, least[:, middle, None] + least[middle], out=least)
    if (least.diagonal() > 0).any():
        return None
    return least if not network.apart or _choose_orders(least, network.apart) else None


def _choose_orders(least: Matrix, apart: Sequence[Apart]) -> bool:
    """Raises distances in place until no pair has a single order left; whether all pairs have an order."""
    pairs = np.array(apart, dtype=np.int64)
    one_start, one_end, other_start, other_end, one_first, other_first = pairs.T
    while True:
        not_one = least[other_start, one_end] + one_first > 0
        not_other = least[one_start, other_end] + other_first > 0
        if (not_one & not_other).any():
            return False
        open_one = not_other & (least[one_end, other_start] < one_first)
        open_other = not_one & (least[other_end, one_start] < other_first)
        forced = [
            *((one_end[k], other_start[k], one_first[k]) for k in np.flatnonzero(open_one)),
            *((other_end[k], one_start[k], other_first[k]) for k in np.flatnonzero(open_other)),
        ]
        if not forced:
            return True
        if not all(_raise(least, *step) for step in forced):
            return False


def _raise(least: Matrix, earlier: int, later: int, low: int) -> bool:
    """Takes in one more distance; False where it closes a circle that cannot be kept."""
    if least[later, earlier] + low > 0:
        return False
    if least[earlier, later] < low:
        np.maximum(least, (least[:, earlier] + low)[:, None] + least[later], out=least)
    return True
