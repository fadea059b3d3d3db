"""Another day for a visit that cannot be on its own: the others stay where they are."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from datetime import date

from planner.packing.day import pack_day
from planner.packing.problem import key
from planner.packing.repack_study import closed_before_checks
from planner.packing.running import Running
from planner.schedule.model import NotPlaced, PlacedVisit, RigTask
from planner.study.model import Visit

EACH_DAY_S = 1.5
NAMED_DAYS = 6


@dataclass(frozen=True)
class Elsewhere:
    """New places for a visit and for later ones that had to move with it, or why there is none."""

    visits: tuple[PlacedVisit, ...] = ()
    tasks: tuple[RigTask, ...] = ()
    not_placed: tuple[NotPlaced, ...] = ()


def offer_days(running: Running, visit: Visit, after: date, why: str, until: float) -> Elsewhere:
    """The first day after `after` that takes the visit with everything else untouched.

    Where there is none, the participant's later visits are moved as well, as far back as they must.
    `running` has everything but the visit, and is not changed.
    """
    trial = _copy(running)
    tried: list[date] = []
    if found := _first_day(trial, visit, after, until, tried):
        return Elsewhere((found[0],), found[1])
    asked = running.study.asked[visit.participant]
    followers = [v for v in asked[asked.index(visit) + 1 :] if key(v) in trial.visits]
    for count in range(1, len(followers) + 1):
        if moved := _with_followers(running, visit, followers[:count], after, until):
            return moved
    days = ", ".join(f"{day}" for day in tried[:NAMED_DAYS]) + (
        " and later" if len(tried) > NAMED_DAYS else ""
    )
    words = f"{why}; no other day takes it" + (
        f" (tried: {days})" if days else ": its gaps leave no open day"
    )
    return Elsewhere(not_placed=(NotPlaced(visit.participant, visit.file_id, words),))


def _copy(running: Running) -> Running:
    return Running(running.study, running.plans, dict(running.visits), dict(running.tasks), running.guard_s)


def _with_followers(
    running: Running, visit: Visit, followers: list[Visit], after: date, until: float
) -> Elsewhere | None:
    """The visit and those after it, each on its first day; None where one has none."""
    trial = _copy(running)
    for follower in followers:
        del trial.visits[key(follower)]
    visits: list[PlacedVisit] = []
    tasks: list[RigTask] = []
    for one in (visit, *followers):
        found = _first_day(trial, one, after, until, [])
        if found is None:
            return None
        visits.append(found[0])
        tasks += found[1]
    return Elsewhere(tuple(visits), tuple(tasks))


def _first_day(
    running: Running, visit: Visit, after: date, until: float, tried: list[date]
) -> tuple[PlacedVisit, tuple[RigTask, ...]] | None:
    """Places the visit on its first day after `after` that takes it, in `running` too."""
    for day in running.days_for(visit):
        if day <= after or time.monotonic() > until:
            continue
        tried.append(day)
        problem = running.problem(day, [visit], frozen=running.on(day))
        problem = replace(problem, study=closed_before_checks(problem.study, problem.frozen_tasks))
        result = pack_day(
            problem, seconds=EACH_DAY_S, stages=("placed", "waiting_s"), seed=running.study.seed
        )
        if result.visits:
            running.visits[key(visit)] = result.visits[0]
            running.tasks[day] = (*running.tasks.get(day, ()), *result.rig_tasks)
            return result.visits[0], result.rig_tasks
    return None
