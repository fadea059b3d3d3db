"""Large-neighbourhood search over visits: a few neighbours in time are placed anew, again and again.

The solver alone stalls on a full day, for which visit must make room for which is decided far from
where the room is missing; a piece of the day it packs in a moment, and proven.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.packing.bounds.alike import sort_alike
from planner.packing.core import Answer, Core
from planner.packing.hints import add_hint
from planner.packing.model import make_model
from planner.packing.objective import Weights
from planner.packing.search.neighbourhood import around, put_back
from planner.packing.search.pieces import Piece, draw_piece, kinds
from planner.packing.search.side_by_side import side_by_side
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import Variables

PieceAim = Callable[[Variables, Answer, list[int], Weights], cp_model.LinearExprT]
Score = Callable[[Answer], int]
WEIGHTS = (6, 14)  # a piece's visits count so much, drawn anew each time: the same ones may end otherwise
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
    piece_s: float = 0.25
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
    shared = _Shared(hunt, effort, sort_alike(core, best), tell)
    if len(shared.here(core)) == 0:
        return shared.best
    side_by_side([_Walk(core, shared, number).go for number in range(effort.workers)], shared.give_up)
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

    def give_up(self) -> None:
        """Ends all walks."""
        self.ended = True

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
        if self.ended or (effort.stop and effort.stop()):
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
        self.kinds, self.since = kinds(), 0

    def go(self) -> None:
        """Walks until it is time to end."""
        number = 0
        while not self.shared.is_over(number):
            number += 1
            self._step(number)

    def _step(self, number: int) -> None:
        kind = self.draw.choice(self.kinds)
        piece = draw_piece(self.core, self.now, self.here, kind, self.draw, late=self.hunt.late)
        weights = {j: self.draw.randint(*WEIGHTS) for j in piece.free}
        found, proof = placed_anew(self.core, self.now, piece, weights, self.hunt, self._limits(number))
        kind.learn(self.draw, len(self.here), proven=proof is Proof.OPTIMAL)
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

    def _take(self, found: Answer) -> None:
        """Goes on from what was found unless it is too much worse."""
        reached = self.hunt.score(found)
        if reached < self.score:
            found = sort_alike(self.core, self.hunt.settle(found))
            reached = self.hunt.score(found)
        if reached <= self.score + self.hunt.loss:
            self.now, self.score = found, reached
        if reached < self.lowest:
            self.lowest, self.since = reached, 0
        self.shared.offer(found)


def placed_anew(
    core: Core, now: Answer, piece: Piece, weights: Weights, hunt: Hunt, limits: Limits
) -> tuple[Answer | None, Proof]:
    """The answer with the visits of a piece placed anew, as good as was found.

    Alike visits stand in order before, in the piece, and after: it need not be proven for each order of them.
    """
    v = make_model(piece.cut(around(core, now, piece.free), now))
    piece.hold(v, now)
    add_hint(v, now)
    aim = hunt.aim(v, now, list(piece.free), weights)
    done = run(v, aim, limits, settings=_quick if hunt.quick else None)
    if done.answer is None:
        return None, done.proof
    return sort_alike(core, put_back(core, now, done.answer, piece.free)), done.proof


def _quick(solver: cp_model.CpSolver) -> None:
    solver.parameters.linearization_level = 0
    solver.parameters.cp_model_probing_level = 0  # a quarter of a small piece's time, as measured
    solver.parameters.symmetry_level = 0  # alike visits are in order already
    solver.parameters.max_presolve_iterations = 1  # with the line before a fifth of what is left
