"""A day filled from its opening on, pressed together as it grows.

What is gained in the middle of a full day helps only once all that stands behind it has moved as well.
While a day grows nothing stands behind: after each visit more the last few are packed anew until they end
no sooner, and what lies before them is dense already.
"""

from __future__ import annotations

import random
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

from planner.packing.bounds.alike import sort_alike
from planner.packing.core import Answer
from planner.packing.greedy import refill
from planner.packing.search.lns import WEIGHTS, Effort, placed_anew
from planner.packing.search.overtime import LongDay, without_job
from planner.packing.search.pieces import Piece
from planner.packing.search.side_by_side import side_by_side
from planner.packing.solve import Limits, Proof

PIECE_S = 0.08  # for one piece; what is not proven by then may be a gain as well
NEAR = 0.125  # of the longest visit: a day that runs over by no more than that is pressed on
KINDS = 4  # of visits that are tried as the next


@dataclass(frozen=True)
class Press:
    """Which pieces are packed anew: visits and how far each may move, as a share of the longest visit.

    A piece ends with one of the last visits, `back` before the very last; `patience` is the number of
    pieces without a gain after which it is enough.
    """

    pieces: Sequence[tuple[int, float]]
    back: Sequence[int]
    patience: int


# Pieces that do not reach to the last visit gain next to nothing while a day grows; of fewer visits, or of
# more, they gain less for their time.
GROWING = ((3, 0.25), (3, 0.5), (3, 0.5), (4, 0.125), (4, 0.25))
AT_LAST = Press(((3, 0.25), (3, 0.5), (4, 0.25), (4, 0.125), (5, 0.1)), (0, 0, 1, 2, 3), 15)


@dataclass
class Growth:
    """A day in the making; all workers press it after each visit, and the best of what they get goes on."""

    long: LongDay
    effort: Effort
    most: int  # visits: so many are enough
    known: int  # visits that a day is known to take: only more of them are worth a longer try
    patience: int
    _ended: bool = field(default=False, init=False)
    _pieces: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self.core = self.long.core
        self.hunt = self.long.hunt()
        self.longest = max((job.alone for job in self.core.jobs), default=1)
        self.draws = [random.Random(self.effort.seed + 7919 * n) for n in range(self.effort.workers)]

    def day(self) -> Answer:
        """The day, without what runs over its end; what there is of it when the time is over."""
        now, growing = _nobody(self.long), Press(GROWING, (0,), self.patience)
        while not self._is_over() and now.placed(self.core) < self.most and self.long.over(now) == 0:
            if (grown := self._with_next(now)) is None:
                break
            now = self._best_pressed(grown, growing)
        if now.placed(self.core) > self.known and 0 < self.long.over(now) <= NEAR * self.longest:
            now = self._best_pressed(now, AT_LAST)
        return self._within(now)

    def _is_over(self) -> bool:
        if self._ended or (self.effort.stop and self.effort.stop()):
            return True
        if self.effort.workers == 1:
            return self._pieces >= self.effort.seconds / PIECE_S
        return time.monotonic() >= self.effort.until

    def _with_next(self, now: Answer) -> Answer | None:
        """With a visit more, where there is room soonest; of those that must come, or leave before others."""
        left = [j for j in self.core.visits() if now.starts[j] is None and self.core.jobs[j].within]
        left = [j for j in left if self.core.jobs[j].must] or left
        self.draws[0].shuffle(left)
        kinds = list({self.core.jobs[j].alike or j: j for j in left}.values())[:KINDS]
        options = [(refill(self.core, now, [j], self.long.visitors), j) for j in kinds]
        options = [(answer, j) for answer, j in options if answer.starts[j] is not None]
        if not options:
            return None
        about = max(1, round(NEAR * self.longest))
        answer, _ = min(options, key=lambda one: (self.long.end(*one) // about, self.long.due[one[1]]))
        return sort_alike(self.core, answer)

    def _best_pressed(self, now: Answer, press: Press) -> Answer:
        """The best of what the workers make of the day."""
        tasks = [partial(self._pressed, now, press, draw) for draw in self.draws]
        return min(side_by_side(tasks, self._give_up), key=self.long.score)

    def _give_up(self) -> None:
        self._ended = True

    def _pressed(self, now: Answer, press: Press, draw: random.Random) -> Answer:
        """The day with some of its last visits packed anew until pieces gain nothing any more."""
        in_vain, reached = 0, self.long.score(now)
        while in_vain < press.patience and not self._is_over():
            visits, width = draw.choice(press.pieces)
            found = self._anew(now, visits, width, draw.choice(press.back), draw)
            in_vain += 1
            if found is not None and (score := self.long.score(found)) <= reached:
                in_vain = 0 if score < reached else in_vain
                now, reached = found, score
            if press is AT_LAST and self.long.over(now) == 0:
                break
        return now

    def _anew(self, now: Answer, visits: int, width: float, back: int, draw: random.Random) -> Answer | None:
        """So many visits packed anew, `back` before the last; with one worker only if it is proven."""
        here = [j for j in self.core.visits() if now.starts[j] is not None]
        here.sort(key=lambda j: (now.starts[j] or (0,))[self.core.jobs[j].first])
        free = tuple(here[: max(1, len(here) - back)][-visits:])
        piece = Piece(free, max(1, round(width * self.longest)))
        weights = {j: draw.randint(*WEIGHTS) for j in free}
        self._pieces += 1
        until = None if self.effort.workers == 1 else self.effort.until
        limits = Limits(PIECE_S, 1, draw.randrange(2**31), self.effort.stop, until)
        found, proof = placed_anew(self.core, now, piece, weights, self.hunt, limits)
        return found if proof is Proof.OPTIMAL or self.effort.workers > 1 else None

    def _within(self, day: Answer) -> Answer:
        for j in self.core.visits():
            if self.long.end(day, j) > self.long.due[j]:
                day = without_job(day, j)
        return day


def _nobody(long: LongDay) -> Answer:
    return Answer((None,) * len(long.core.jobs), (None,) * len(long.core.jobs))
