"""Day by day: put in visits that found no slot, and pack each day anew so that nobody waits in vain."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from planner.packing.budget import Budget
from planner.packing.day import pack_day
from planner.packing.problem import key
from planner.packing.progress import Progress
from planner.packing.put_in import put_in
from planner.packing.running import Running
from planner.schedule.model import PlacedVisit
from planner.schedule.values import visit_waiting_s
from planner.study.model import Visit

ONE_TRY_S = 1.0
MOST_DAYS_TRIED = 40


def fill(running: Running, budget: Budget) -> None:
    """Tries every visit without a place on every day that would do, beside what is there already."""
    for visit in running.missing():
        if budget.is_over:
            return
        earlier = running.study.asked[visit.participant]
        before = earlier[: earlier.index(visit)]
        if any(key(v) not in running.visits for v in before):
            continue
        for day in running.days_for(visit)[:MOST_DAYS_TRIED]:
            if budget.is_over or add(running, visit, day, min(ONE_TRY_S, budget.left_s), budget):
                break


def add(running: Running, visit: Visit, day: date, seconds: float, budget: Budget) -> bool:
    """Places one visit on that day beside the others, none of which moves; False where that was not found.

    No seconds: only a place that is found in an instant.
    """
    problem = running.problem(day, [visit], frozen=running.on(day))
    found = put_in(problem)
    budget.spend_on_day(0.0 if found else seconds, 1)
    if found is None and seconds <= 0:
        return False
    if found is None:
        result = pack_day(
            problem,
            seconds=seconds,
            stages=("placed",),
            workers=budget.workers,
            seed=running.study.seed,
            stop=budget.stops,
        )
        if result.not_placed or not result.visits:
            return False
        found = result.visits[0], result.rig_tasks
    running.visits[key(visit)] = found[0]
    tasks = running.tasks.get(day, ())
    running.tasks[day] = (*tasks, *(task for task in found[1] if task not in tasks))
    return True


def crowd_in(running: Running, visit: Visit, day: date, seconds: float, budget: Budget) -> bool:
    """Places one visit on that day, whose other visits may move; False where that was not found."""
    before = running.on(day)
    result = pack_day(
        running.problem(day, [*_asked_on(running, before), visit]),
        seconds=min(seconds, budget.left_s),
        stages=("placed",),
        hint=before,
        workers=budget.workers,
        seed=running.study.seed,
        stop=budget.stops,
    )
    budget.spend_on_day(seconds, len(before) + 1)
    if len(result.visits) <= len(before):
        return False
    running.visits.update({key(v): v for v in result.visits})
    running.tasks[day] = result.rig_tasks
    return True


def polish(running: Running, budget: Budget, *, share_s: float, stages: Sequence[str]) -> None:
    """Packs each day anew, the day with most waiting first; a day is taken over only if it got better."""
    waits: dict[date, int] = {}
    for visit in running.visits.values():
        waits[visit.date] = waits.get(visit.date, 0) + _waiting_s(running, [visit])
    for number, day in enumerate(sorted(waits, key=lambda day: (-waits[day], day))):
        if budget.is_over:
            return
        seconds = min(share_s, budget.left_s / (len(waits) - number) * 2)
        if budget.report:
            budget.report(Progress("waiting_s", len(running.visits), sum(waits.values()), 0, budget.left_s))
        if polish_day(running, day, budget, seconds=seconds, stages=stages):
            waits[day] = _waiting_s(running, running.on(day))


def polish_day(
    running: Running,
    day: date,
    budget: Budget,
    *,
    seconds: float,
    stages: Sequence[str],
    finer: bool = False,
    at_least: int | None = None,
) -> bool:
    """Packs one day anew with the same visits; whether the plan has changed.

    `at_least`: how many of them it must hold, where not all can stay; None: all.
    """
    before = running.on(day)
    if not before or (not finer and _waiting_s(running, before) == 0):
        return False
    problem = running.problem(day, _asked_on(running, before))
    result = pack_day(
        problem,
        seconds=seconds,
        stages=stages,
        hint=before,
        workers=budget.workers,
        seed=running.study.seed,
        stop=budget.stops,
    )
    budget.spend_on_day(0.0 if result.proven else seconds, len(before))
    if len(result.visits) < (len(before) if at_least is None else at_least):
        return False
    if not finer and _waiting_s(running, result.visits) >= _waiting_s(running, before):
        return False
    for visit in before:
        del running.visits[key(visit)]
    running.visits.update({key(v): v for v in result.visits})
    running.tasks[day] = result.rig_tasks
    return True


def _asked_on(running: Running, placed: Sequence[PlacedVisit]) -> list[Visit]:
    return [v for visit in placed for v in running.study.asked[visit.participant] if key(v) == key(visit)]


def _waiting_s(running: Running, visits: Sequence[PlacedVisit]) -> int:
    protocols = {key(v): v.protocol for visit in visits for v in running.study.asked[visit.participant]}
    return sum(visit_waiting_s(v, running.plans[protocols[key(v)]]) for v in visits)
