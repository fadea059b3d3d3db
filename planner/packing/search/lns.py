"""Large-neighbourhood search over visits: a few neighbours in time are placed anew, again and again.

The solver alone stalls on a full day, for which visit must make room for which is decided far from
where the room is missing; four neighbours at a time it packs in a second, often proven.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core
from planner.packing.hints import add_hint
from planner.packing.model import make_model
from planner.packing.search.neighbourhood import around, put_back
from planner.packing.solve import Limits, Proof, run
from planner.packing.variables import Variables

PieceAim = Callable[[Variables, Answer, list[int]], cp_model.LinearExprT]
Score = Callable[[Answer], tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Hunt:
    """What a search is after: the score of a whole answer and the aim for a piece of it, both made small."""

    score: Score
    aim: PieceAim
    enough: Callable[[Answer], bool]
    settle: Callable[[Answer], Answer] = lambda answer: answer  # a cheap step after each gain
    late: bool = False  # whether the end of the day is what matters most


@dataclass(frozen=True, slots=True)
class Effort:
    """How long a search may go on, and how hard one piece is tried."""

    until: float  # of time.monotonic(); ignored with one worker
    seconds: float
    workers: int
    seed: int
    stop: Callable[[], bool] | None = None
    piece_s: float = 0.7
    size: int = 4

    @property
    def tries(self) -> int | None:
        """With one worker a number of pieces, so that the same seed does the same; else no limit."""
        return max(1, int(self.seconds / self.piece_s)) if self.workers == 1 else None


def search(
    core: Core, best: Answer, hunt: Hunt, effort: Effort, tell: Callable[[Answer], None] | None = None
) -> Answer:
    """The best answer found from `best` on; every visit that has a place keeps one."""
    draw = random.Random(effort.seed)
    here = [j for j in core.visits() if best.starts[j] is not None]
    score, number, size = hunt.score(best), 0, effort.size
    while not hunt.enough(best) and not _over(effort, number):
        number += 1
        free = _neighbours(core, best, here, size, draw, hunt.late)
        left_s = (
            effort.piece_s if effort.workers == 1 else min(effort.piece_s, effort.until - time.monotonic())
        )
        limits = Limits(max(0.05, left_s), effort.workers, effort.seed + number, effort.stop)
        found, proof = _piece(core, best, free, hunt, limits)
        if proof is Proof.OPTIMAL and size < len(here):
            size = size + 1 if draw.random() < 0.3 else size
        elif proof is not Proof.OPTIMAL and size > 3:
            size = size - 1 if draw.random() < 0.3 else size
        if found is not None and (reached := hunt.score(found)) <= score:
            if reached < score:
                found = hunt.settle(found)
                reached = hunt.score(found)
                if tell:
                    tell(found)
            best, score = found, reached
    return best


def _over(effort: Effort, number: int) -> bool:
    if effort.stop and effort.stop():
        return True
    if effort.tries is not None:
        return number >= effort.tries
    return time.monotonic() >= effort.until


def _neighbours(
    core: Core, best: Answer, here: list[int], size: int, draw: random.Random, late: bool
) -> list[int]:
    """Visits that overlap in time, as a rule; now and then one from elsewhere instead of the last of them."""
    in_order = sorted(here, key=lambda j: (best.starts[j] or (0,))[core.jobs[j].first])
    size = min(size, len(in_order))
    places = len(in_order) - size + 1
    begin = max(draw.randrange(places), draw.randrange(places)) if late else draw.randrange(places)
    free = in_order[begin : begin + size]
    if draw.random() < 0.25 and len(in_order) > size:
        free[-1] = draw.choice([j for j in in_order if j not in free])
    return free


def _piece(
    core: Core, best: Answer, free: list[int], hunt: Hunt, limits: Limits
) -> tuple[Answer | None, Proof]:
    """The answer with those visits placed anew, as good as was found."""
    part = around(core, best, free)
    jobs = tuple(replace(job, must=True) if j in free else job for j, job in enumerate(part.jobs))
    v = make_model(replace(part, jobs=jobs), order_alike=False)
    add_hint(v, best)
    done = run(v, hunt.aim(v, best, free), limits)
    if done.answer is None:
        return None, done.proof
    return put_back(core, best, done.answer, free), done.proof
