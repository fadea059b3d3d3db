"""A short try of a whole study: how many visits get a place, for saying what a change would mend."""

from __future__ import annotations

import time

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.day import pack_day
from planner.packing.days.comers import comers
from planner.packing.days.many_days import DaysPacker
from planner.packing.days.polish import fill
from planner.packing.days.resettle import resettle
from planner.packing.problem import DayProblem
from planner.packing.running import Running
from planner.packing.why.case import Case

DAY_S = 0.6  # for a study of one day
DAYS_S = 0.8  # for one of several
LONGER = 3  # times as much, where a larger change has placed everybody
SMALL = 60  # visits up to which several days are tried


def placed(case: Case, until: float, times: int = 1) -> int | None:
    """How many visits find a place by `until` on the monotonic clock; None where that is too much to try.

    A try takes as many `times` its usual seconds.
    """
    left = max(0.05, until - time.monotonic())
    if len(case.study.open) == 1:
        return _on_one_day(case, min(times * DAY_S, left))
    if not case.study.open or len(case.visits) > SMALL:
        return None
    until = time.monotonic() + min(times * DAYS_S, left)
    count = _one_by_one(case, Budget(until))
    return count if count == len(case.visits) else max(count, _by_slots(case, Budget(until)))


def _on_one_day(case: Case, seconds: float) -> int:
    (day,) = case.study.open
    chosen = comers(case.study, day, Bounds(case.study, case.plans).most_placed())
    problem = DayProblem(case.study, case.plans, day, chosen.visits)
    return len(pack_day(problem, seconds=seconds, stages=("placed",), workers=2).visits)


def _one_by_one(case: Case, budget: Budget) -> int:
    """Each visit where it fits first: quick, and for few visits mostly enough."""
    running = Running(case.study, case.plans, {}, {})
    fill(running, budget)
    resettle(running, budget)
    return len(running.visits)


def _by_slots(case: Case, budget: Budget) -> int:
    """As a whole study is packed, in what is left of the time."""
    return 0 if budget.is_over else len(DaysPacker(case.study, case.plans, budget).pack().visits)
