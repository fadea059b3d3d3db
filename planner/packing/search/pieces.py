"""Pieces of a day that are small enough to be packed anew, and proven, in a moment.

Two kinds, for the two ways in which a day gets better. A few neighbours in time, free to take other turns,
find who should go before whom. More neighbours, none of whose activities moves far, make room together: a
visit can often come sooner only if the others move by a minute each, which three at a time never find.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from planner.packing.core import Answer, Core, Job
from planner.packing.variables import Variables

FEWEST = 3  # visits of a piece whose turns may change
TOGETHER = 4  # visits of a piece in which none moves far
FAR_S, NEAR_S = 1800, 600  # how far an activity may move at first, of each kind
LEAST_S, MOST_S = 90, 2400
WIDER, NARROWER = 1.05, 0.9  # that changes so, whether a piece was proven in its time or not
GROWS, SHRINKS = 0.05, 0.5  # how often the number of visits changes, at the most and the least distance
ELSEWHERE = 0.15  # of the pieces have one visit from another time of the day


@dataclass(frozen=True, slots=True)
class Piece:
    """The visits to be placed anew, and how many steps each of their activities may move."""

    free: tuple[int, ...]
    width: int

    def cut(self, part: Core, now: Answer) -> Core:
        """The day `part` with the free visits bound to come, near to where they are."""
        jobs = [self._near(job, now.starts[j]) if j in self.free else job for j, job in enumerate(part.jobs)]
        return replace(part, jobs=tuple(jobs))

    def hold(self, v: Variables, now: Answer) -> None:
        """Keeps each activity of the free visits near to where it is."""
        for j in self.free:
            for start, was in zip(v.start[j], now.starts[j] or (), strict=True):
                v.model.add_linear_constraint(start, was - self.width, was + self.width)

    def _near(self, job: Job, starts: Sequence[int] | None) -> Job:
        assert starts is not None
        low, high = starts[job.first] - self.width, starts[job.first] + self.width
        spans = tuple((max(a, low), min(b, high)) for a, b in job.starts if max(a, low) <= min(b, high))
        return replace(job, must=True, starts=spans)


@dataclass(slots=True)
class Kind:
    """One kind of piece, as large as is proven nearly always; each piece tells anew."""

    least: int
    width_s: float
    visits: int = field(init=False)

    def __post_init__(self) -> None:
        self.visits = self.least

    def learn(self, draw: random.Random, most: int, *, proven: bool) -> None:
        """Makes the next piece a little larger or smaller: how far activities move, then how many visits."""
        self.width_s *= WIDER if proven else NARROWER
        if self.width_s > MOST_S:
            self.visits += self.visits < most and draw.random() < GROWS
        if self.width_s < LEAST_S or (not proven and draw.random() < SHRINKS):
            self.visits = max(self.least, self.visits - 1)
        self.width_s = min(MOST_S, max(LEAST_S, self.width_s))


def kinds() -> list[Kind]:
    """The kinds of pieces, by turns drawn."""
    return [Kind(FEWEST, FAR_S), Kind(TOGETHER, NEAR_S)]


def draw_piece(
    core: Core, now: Answer, here: Sequence[int], kind: Kind, draw: random.Random, *, late: bool
) -> Piece:
    """Visits that overlap in time, as a rule; now and then one from elsewhere instead of the last of them."""
    in_order = sorted(here, key=lambda j: (now.starts[j] or (0,))[core.jobs[j].first])
    size = min(kind.visits, len(in_order))
    places = len(in_order) - size + 1
    begin = max(draw.randrange(places), draw.randrange(places)) if late else draw.randrange(places)
    free = in_order[begin : begin + size]
    if draw.random() < ELSEWHERE and len(in_order) > size:
        free[-1] = draw.choice([j for j in in_order if j not in free])
    return Piece(tuple(free), max(1, round(kind.width_s / core.step_s)))
