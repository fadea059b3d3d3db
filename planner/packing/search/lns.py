"""Large-neighbourhood search over visits: a few neighbours in time are placed anew, again and again.

The solver alone stalls on a full day, for which visit must make room for which is decided far from
where the room is missing; three neighbours at a time, none moved far, it packs in a moment, and proven.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core, Job
from planner.packing.hints import add_hint
from planner.packing.model import make_model
from planner.packing.objective import Weights
from planner.packing.search.neighbourhood import around, put_back
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import Variables

PieceAim = Callable[[Variables, Answer, list[int], Weights], cp_model.LinearExprT]
Score = Callable[[Answer], int]
FEWEST = 3  # visits of a piece
WEIGHTS = (6, 14)  # a piece's visits count so much, drawn anew each time: the same three may end otherwise
GIVE_UP = 40  # pieces without a gain, after which a walk goes back to the best plan


@dataclass(frozen=True, slots=True)
class Hunt:
    """What a search is after: the score of a whole answer and the aim for a piece of it, both made small."""

    score: Score
    aim: PieceAim
    enough: Callable[[Answer], bool]
    settle: Callable[[Answer], Answer] = lambda answer: answer  # a cheap step after each gain
    late: bool = False  # whether the end of the day is what matters most
    loss: int = 0  # by how much a step may make the score worse
    quick: bool = False  # whether pieces are proven sooner without linear relaxations
    rank: Score | None = None  # by which the best plan is chosen, where that is not the score


@dataclass(frozen=True, slots=True)
class Effort:
    """How long a search may go on, and how hard one piece is tried."""

    until: float  # of time.monotonic(); ignored with one worker
    seconds: float
    workers: int
    seed: int
    stop: Callable[[], bool] | None = None
    piece_s: float = 0.5
    patience: int | None = None  # pieces without a gain, after which it ends

    @property
    def tries(self) -> int | None:
        """With one worker a number of pieces, so that the same seed does the same; else no limit."""
        return max(1, int(self.seconds / self.piece_s)) if self.workers == 1 else None


def search(
    core: Core, best: Answer, hunt: Hunt, effort: Effort, tell: Callable[[Answer], None] | None = None
) -> Answer:
    """The best answer found from `best` on; every visit that has a place keeps one.

    Each worker walks by itself; all know the best plan that any of them has found.
    """
    shared = _Shared(hunt, effort, best, tell)
    if len(shared.here(core)) == 0:
        return best
    walks = [_Walk(core, shared, number) for number in range(effort.workers)]
    threads = [threading.Thread(target=walk.go, daemon=True) for walk in walks[1:]]
    for thread in threads:
        thread.start()
    walks[0].go()
    for thread in threads:
        thread.join()
    if shared.fault is not None:
        raise shared.fault
    return shared.best


class _Shared:
    """The best plan of all walks, and whether it is time to end."""

    def __init__(
        self, hunt: Hunt, effort: Effort, best: Answer, tell: Callable[[Answer], None] | None
    ) -> None:
        self.hunt, self.effort, self.tell = hunt, effort, tell
        self.rank = hunt.rank or hunt.score
        self.best, self.reached = best, self.rank(best)
        self.lock = threading.Lock()
        self.ended = hunt.enough(best)
        self.since = 0  # pieces of all walks since the last gain
        self.fault: BaseException | None = None

    def here(self, core: Core) -> list[int]:
        """The visits that have a place."""
        return [j for j in core.visits() if self.best.starts[j] is not None]

    def offer(self, answer: Answer) -> None:
        """Takes over a better plan."""
        reached = self.rank(answer)
        with self.lock:
            if reached < self.reached and not self.ended:
                self.best, self.reached, self.since = answer, reached, 0
                self.ended = self.hunt.enough(answer)
                if self.tell:
                    self.tell(answer)

    def is_over(self, number: int) -> bool:
        """Whether a walk of so many pieces ends now."""
        effort = self.effort
        if self.ended or self.fault is not None or (effort.stop and effort.stop()):
            return True
        if effort.patience is not None and self.since > effort.patience:
            return True
        return number >= effort.tries if effort.tries is not None else time.monotonic() >= effort.until


class _Walk:
    """One worker's plan, changed piece by piece; now and then for the worse, within the hunt's loss."""

    def __init__(self, core: Core, shared: _Shared, number: int) -> None:
        self.core, self.shared, self.hunt = core, shared, shared.hunt
        self.seed = shared.effort.seed + 7919 * number
        self.draw = random.Random(self.seed)
        self.here = shared.here(core)
        self.now, self.score = shared.best, shared.hunt.score(shared.best)
        self.lowest = self.score
        self.size, self.since = FEWEST, 0

    def go(self) -> None:
        """Walks until it is time to end; a fault ends all walks."""
        try:
            number = 0
            while not self.shared.is_over(number):
                number += 1
                self._step(number)
        except BaseException as fault:
            self.shared.fault = fault

    def _step(self, number: int) -> None:
        free = _neighbours(self.core, self.now, self.here, self.size, self.draw, self.hunt.late)
        weights = {j: self.draw.randint(*WEIGHTS) for j in free}
        found, proof = _piece(self.core, self.now, free, weights, self.hunt, self._limits(number))
        self._resize(proof)
        self.since += 1
        self.shared.since += 1
        if found is not None and (proof is Proof.OPTIMAL or self.shared.effort.workers > 1):
            self._take(found)  # by one worker only what is proven: a run cut short need not end alike
        if self.since > GIVE_UP and self.now is not self.shared.best:
            self.now, self.since = self.shared.best, 0
            self.score = self.hunt.score(self.now)

    def _limits(self, number: int) -> Limits:
        effort = self.shared.effort
        until = None if effort.workers == 1 else effort.until
        return Limits(effort.piece_s, 1, self.seed + number, effort.stop, until)

    def _resize(self, proof: Proof) -> None:
        """Pieces as large as are proven nearly always."""
        if proof is Proof.OPTIMAL:
            self.size += self.size < len(self.here) and self.draw.random() < 0.05
        else:
            self.size -= self.size > FEWEST and self.draw.random() < 0.5

    def _take(self, found: Answer) -> None:
        """Goes on from what was found unless it is too much worse."""
        reached = self.hunt.score(found)
        if reached < self.score:
            found = self.hunt.settle(found)
            reached = self.hunt.score(found)
        if reached <= self.score + self.hunt.loss:
            self.now, self.score = found, reached
        if reached < self.lowest:
            self.lowest, self.since = reached, 0
        self.shared.offer(found)


def _neighbours(
    core: Core, now: Answer, here: Sequence[int], size: int, draw: random.Random, late: bool
) -> list[int]:
    """Visits that overlap in time, as a rule; now and then one from elsewhere instead of the last of them."""
    in_order = sorted(here, key=lambda j: (now.starts[j] or (0,))[core.jobs[j].first])
    size = min(size, len(in_order))
    places = len(in_order) - size + 1
    begin = max(draw.randrange(places), draw.randrange(places)) if late else draw.randrange(places)
    free = in_order[begin : begin + size]
    if draw.random() < 0.15 and len(in_order) > size:
        free[-1] = draw.choice([j for j in in_order if j not in free])
    return free


def _piece(
    core: Core, now: Answer, free: list[int], weights: Weights, hunt: Hunt, limits: Limits
) -> tuple[Answer | None, Proof]:
    """The answer with those visits placed anew, as good as was found."""
    part = around(core, now, free)
    jobs = tuple(_near(job, now.starts[j]) if j in free else job for j, job in enumerate(part.jobs))
    v = make_model(replace(part, jobs=jobs), order_alike=False)
    add_hint(v, now)
    done = run(v, hunt.aim(v, now, free, weights), limits, settings=_quick if hunt.quick else None)
    if done.answer is None:
        return None, done.proof
    return put_back(core, now, done.answer, free), done.proof


def _near(job: Job, starts: Sequence[int] | None) -> Job:
    """The visit, which must come, near to where it was: a piece is so proven several times as soon."""
    assert starts is not None
    far = max(1, job.alone // 6)
    low, high = starts[job.first] - far, starts[job.first] + far
    spans = tuple((max(a, low), min(b, high)) for a, b in job.starts if max(a, low) <= min(b, high))
    return replace(job, must=True, starts=spans)


def _quick(solver: cp_model.CpSolver) -> None:
    solver.parameters.linearization_level = 0
