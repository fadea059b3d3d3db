"""What the search over pieces is after in each stage that follows the first."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core
from planner.packing.model import keeps_rules
from planner.packing.objective import Weights, keep, value, waits
from planner.packing.search.growing import Growth
from planner.packing.search.lns import Effort, Hunt, search
from planner.packing.search.overtime import LongDay, long_day
from planner.packing.variables import Variables

GROWN = 0.3  # of the time, for days grown anew
TRIES = 2  # of each piece in vain after each visit of such a day
WORSE_S = 120  # by how much a step may add to the waiting of a day


def less_waiting(
    core: Core, best: Answer, bound: int, kept: list[str], effort: Effort, tell: Callable[[Answer], None]
) -> Answer:
    """The answer with the least waiting found; the stages of `kept` lose nothing."""

    def aim(v: Variables, now: Answer, free: list[int], weights: Weights) -> cp_model.LinearExprT:
        keep(v, now, free, kept)
        return sum(weights[j] * cost for j, cost in waits(v).items())

    hunt = Hunt(
        score=lambda answer: value(core, answer, "waiting_s"),
        aim=aim,
        enough=lambda answer: value(core, answer, "waiting_s") <= bound,
        loss=WORSE_S,
    )
    return search(core, best, hunt, effort, tell)


def earlier_end(
    core: Core, best: Answer, bound: int, kept: list[str], effort: Effort, tell: Callable[[Answer], None]
) -> Answer:
    """The answer with the earliest last end found; the stages of `kept` lose nothing.

    Half the way to the bound is called closing time, and the day pressed together until it is kept to.
    """
    if not kept:
        best = _grown(core, best, bound, effort, tell)
    number = 0
    while (reached := value(core, best, "last_end_s")) > bound and not _is_over(effort, number):
        number += 1
        due = max(bound, (bound + reached) // 2) // core.step_s
        tried = replace(effort, seed=effort.seed + 1000 * number)
        best = search(core, best, _by(core, due, kept), tried, tell)
    return best


def _grown(core: Core, best: Answer, bound: int, effort: Effort, tell: Callable[[Answer], None]) -> Answer:
    """The best of days that are grown anew, in a part of the time; they know nothing of earlier stages."""
    left_s = effort.seconds if effort.workers == 1 else effort.until - time.monotonic()
    part = replace(effort, seconds=GROWN * left_s, until=time.monotonic() + GROWN * left_s)
    number, placed = 0, best.placed(core)
    long = long_day(core, max((job.alone for job in core.jobs), default=0))
    while value(core, best, "last_end_s") > bound and not _is_over(part, number):
        number += 1
        tried = replace(part, seed=effort.seed + 1000 * number)
        found = Growth(long, tried, most=placed, known=placed, tries=TRIES).day()
        is_whole = found.placed(core) == placed and keeps_rules(core, found)
        if is_whole and value(core, found, "last_end_s") < value(core, best, "last_end_s"):
            best = found
            tell(best)
    return best


def _is_over(effort: Effort, number: int) -> bool:
    if effort.stop and effort.stop():
        return True
    return number >= 1 if effort.workers == 1 else time.monotonic() >= effort.until


def _by(core: Core, due: int, kept: list[str]) -> Hunt:
    """Everybody out by that step; the best plan is the one whose last visit ends first."""
    long = LongDay(core, (due,) * len(core.jobs))
    hunt = long.hunt()

    def aim(v: Variables, now: Answer, free: list[int], weights: Weights) -> cp_model.LinearExprT:
        keep(v, now, free, kept)
        return long.aim(v, now, free, weights)

    return replace(
        hunt,
        aim=aim,
        settle=(lambda answer: answer) if kept else hunt.settle,
        rank=lambda answer: value(core, answer, "last_end_s"),
    )
