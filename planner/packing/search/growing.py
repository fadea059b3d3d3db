"""A day filled from its opening on, pressed together as it grows.

What is gained in the middle of a full day helps only once all that stands behind it has moved as well.
While a day grows nothing stands behind: after each visit more the last few are packed anew until the very
last ends no sooner, and what lies before it is dense already. When the others end hardly matters: whoever is
let wait may be what makes room for the last one. Days fail by chance, so each worker grows one of its own.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Hashable, Sequence, Set
from dataclasses import dataclass, field, replace

from ortools.sat.python import cp_model

from planner.packing.ahead import out_of_turn
from planner.packing.bounds.alike import sort_alike
from planner.packing.core import Answer
from planner.packing.greedy import refill
from planner.packing.objective import Weights
from planner.packing.search.lns import WEIGHTS, Effort, placed_anew
from planner.packing.search.overtime import EVEN, LongDay, without_job
from planner.packing.search.pieces import Piece
from planner.packing.search.side_by_side import side_by_side
from planner.packing.solve import Limits, Proof
from planner.packing.variables import Variables

PIECE_S = 0.08  # for one piece; what is not proven by then may be a gain as well
NEAR = 0.125  # of the longest visit: a day that runs over by no more than that is pressed on
KINDS = 4  # of visits that are tried as the next
LAST = 30  # times as much as every other end counts the end of the last visit; more makes no difference


@dataclass(frozen=True)
class Press:
    """Which pieces are packed anew, by turns: visits, how far each may move as a share of the longest visit.

    A piece ends with one of the last visits, `back` before the very last. It is tried `tries` times in
    vain, or until it is proven to hold no gain; after each gain the first one has its turn again.
    """

    pieces: Sequence[tuple[int, float]]
    back: Sequence[int]
    tries: int


# Pieces that do not reach to the last visit gain next to nothing while a day grows; of fewer visits, or of
# more, they gain less for their time.
GROWING = ((3, 0.5), (4, 0.125))
AT_LAST = Press(((3, 0.5), (4, 0.25), (5, 0.125)), (0, 0, 1, 2, 3), 5)


@dataclass
class Growth:
    """Days in the making, one for each worker; one that has more visits than are known ends them all."""

    long: LongDay
    effort: Effort
    most: int  # visits: so many are enough
    known: int  # visits that a day is known to take: only more of them are worth a longer try
    tries: int
    tell: Callable[[Answer], None] | None = None  # hears of each day that has more visits than any before
    _ended: bool = field(default=False, init=False)
    _lock: threading.Lock = field(default_factory=threading.Lock, init=False)

    def __post_init__(self) -> None:
        self.core = self.long.core
        self.hunt = replace(self.long.hunt(), score=self.score, aim=self.aim)
        self.longest = max((job.alone for job in self.core.jobs), default=1)
        self.reached = self.known

    def hear(self, whole: Answer) -> None:
        """Passes on a day that has more visits than any before."""
        with self._lock:
            if whole.placed(self.core) > self.reached:
                self.reached = whole.placed(self.core)
                if self.tell:
                    self.tell(whole)

    def score(self, answer: Answer) -> int:
        """What is made small: the end of the last visit before all."""
        last = max((self.long.end(answer, j) for j in self.core.visits()), default=0)
        return self.long.score(answer) + LAST * last

    def aim(self, v: Variables, now: Answer, free: list[int], weights: Weights) -> cp_model.LinearExprT:
        """The same for some visits, their ends weighted."""
        last = v.model.new_int_var(0, self.core.horizon, "last")
        for j in free:
            v.model.add(last >= v.end(j, self.core.jobs[j].last))
        return self.long.aim(v, now, free, weights) + EVEN * LAST * last

    def day(self) -> Answer:
        """The day with most visits, all of which end in time; as far as it came when the time is over."""
        draws = [random.Random(self.effort.seed + 7919 * n) for n in range(self.effort.workers)]
        days = side_by_side([_Growing(self, draw).day for draw in draws], self.give_up)
        return max(days, key=lambda day: (day.placed(self.core), -self.score(day)))

    def give_up(self) -> None:
        """Ends all days as they stand."""
        self._ended = True

    def is_over(self, pieces: int) -> bool:
        """Whether a day of so many pieces ends now."""
        if self._ended or (self.effort.stop and self.effort.stop()):
            return True
        if self.effort.workers == 1:
            return pieces >= self.effort.seconds / PIECE_S
        return time.monotonic() >= self.effort.until


@dataclass
class _Growing:
    """One day; whatever of it has an end in time is a day by itself."""

    growth: Growth
    draw: random.Random
    _pieces: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self.core, self.long = self.growth.core, self.growth.long

    def day(self) -> Answer:
        """The day, as far as it came."""
        growing, whole = Press(GROWING, (0,), self.growth.tries), _nobody(self.long)
        no_room: set[Hashable] = set()
        while not self._is_over() and whole.placed(self.core) < self.growth.most:
            if (grown := self._with_next(whole, no_room)) is None:
                break
            now, kind = self._pressed(grown[0], growing), grown[1]
            if self._is_longer_worth(now):
                now = self._pressed(now, AT_LAST)
            if self.long.over(now):
                no_room.add(kind)
                now = max(whole, self._within(now), key=lambda day: day.placed(self.core))
            whole = now
            self.growth.hear(whole)
        if whole.placed(self.core) > self.growth.known:
            self.growth.give_up()
        return whole

    def _is_over(self) -> bool:
        return self.growth.is_over(self._pieces)

    def _is_longer_worth(self, now: Answer) -> bool:
        """Whether it is a visit more than any day has, and runs over by little."""
        near = NEAR * self.growth.longest
        return now.placed(self.core) > self.growth.known and 0 < self.long.over(now) <= near

    def _with_next(self, now: Answer, no_room: Set[Hashable]) -> tuple[Answer, Hashable] | None:
        """With a visit more, and its kind: where there is room soonest, of those that leave before others.

        Those that must come are first, and visits of kinds in `no_room` are not tried again.
        """
        left = [j for j in self.core.visits() if now.starts[j] is None and self.core.jobs[j].within]
        left = [j for j in left if self.core.jobs[j].must] or left
        self.draw.shuffle(left)
        kinds = {kind: j for j in left if (kind := self.core.jobs[j].alike or j) not in no_room}
        options = [(refill(self.core, now, [j], self.long.visitors), j) for j in [*kinds.values()][:KINDS]]
        options = [(answer, j) for answer, j in options if answer.starts[j] is not None]
        if not options:
            return None
        about = max(1, round(NEAR * self.growth.longest))
        answer, j = min(options, key=lambda one: (self.long.end(*one) // about, self.long.due[one[1]]))
        return sort_alike(self.core, answer), self.core.jobs[j].alike or j

    def _pressed(self, now: Answer, press: Press) -> Answer:
        """The day with some of its last visits packed anew until pieces gain nothing any more."""
        reached, turn, tries = self.growth.score(now), 0, 0
        while turn < len(press.pieces) and not self._is_over():
            back = self.draw.choice(press.back)
            found, proof = self._anew(now, *press.pieces[turn], back)
            tries += 1
            if found is not None and (score := self.growth.score(found)) <= reached:
                gained, now, reached = score < reached, found, score
                if gained and press is AT_LAST and self.long.over(now) == 0:
                    break
                if gained:
                    turn = tries = 0
                    continue
            if tries >= press.tries or (proof is Proof.OPTIMAL and len(press.back) == 1):
                turn, tries = turn + 1, 0
        return now

    def _anew(self, now: Answer, visits: int, width: float, back: int) -> tuple[Answer | None, Proof]:
        """So many visits packed anew, `back` before the last; with one worker only if it is proven."""
        here = [j for j in self.core.visits() if now.starts[j] is not None]
        here.sort(key=lambda j: (now.starts[j] or (0,))[self.core.jobs[j].first])
        free = tuple(here[: max(1, len(here) - back)][-visits:])
        piece = Piece(free, max(1, round(width * self.growth.longest)))
        weights = {j: self.draw.randint(*WEIGHTS) for j in free}
        self._pieces += 1
        effort = self.growth.effort
        until = None if effort.workers == 1 else effort.until
        limits = Limits(PIECE_S, 1, self.draw.randrange(2**31), effort.stop, until)
        found, proof = placed_anew(self.core, now, piece, weights, self.growth.hunt, limits)
        return found if proof is Proof.OPTIMAL or effort.workers > 1 else None, proof

    def _within(self, day: Answer) -> Answer:
        """Without those that end too late, and what would come without them ahead of it."""
        gone = {j for j in self.core.visits() if self.long.end(day, j) > self.long.due[j]}
        while gone:
            for j in gone:
                day = without_job(day, j)
            gone = out_of_turn(self.core, day.starts)
        return day


def _nobody(long: LongDay) -> Answer:
    return Answer((None,) * len(long.core.jobs), (None,) * len(long.core.jobs))
