"""A study to a schedule that keeps every rule: one day directly, many days by templates, slots and days."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime

from planner.faults import Fault, FaultyInput, Place
from planner.packing.bounds.alone import least_waiting_s
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.day import pack_day
from planner.packing.days.comers import comers
from planner.packing.days.fairness import share_early
from planner.packing.days.many_days import DaysPacker
from planner.packing.days.polish import fill, polish, polish_day
from planner.packing.days.resettle import resettle
from planner.packing.days.settle_again import settle_again
from planner.packing.finished import finished
from planner.packing.head import Head, cannot_stay, judged, status_of
from planner.packing.problem import DayProblem, DayResult, key
from planner.packing.progress import Progress
from planner.packing.running import Running
from planner.schedule.as_it_stands import newcomers
from planner.schedule.model import NotPlaced, RigTask, Schedule
from planner.schedule.plan_file import plan_json
from planner.schedule.values import MOST_SPARE_S
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.timing.lay_out import cannot_be_kept
from planner.timing.plan import VisitPlan

RESERVE_S = 0.1  # for judging the plan and writing it,
RESERVE_VISIT_S = 0.002  # and for each visit; what it really takes is measured before the last of the time
MOST_RESERVE = 0.2  # of the time
ASK_FIRST = 0.5  # of the time, for placing everybody on one day
SOME_ONLY_S = 1.0  # for a better day of those who fit, where it is proven that not all do: why is asked first
EXPLAIN = 0.3  # of it, for saying why not, where not everybody has a place
EXPLAIN_S = 2.5  # at least, unless that is more than half
FILL = 0.5  # of that, for trying those whom the day was not packed from
SAMPLE = 40  # visits that are judged to know how long judging takes
SLOWER = 1.2  # times as much may be needed
END_S = 0.4  # for ending a program that has held a large study
POLISH_S = 1.5  # for packing one day of many anew
NOT_YET = "not in the plan yet; testday repack looks for a place"
DAY_STAGES = ("placed", "waiting_s", "last_end_s", "spare_s")
POLISH_STAGES = ("placed", "waiting_s")


def pack(
    study: Study,
    plans: Mapping[str, VisitPlan],
    *,
    seconds: float,
    now: datetime,
    version: int = 1,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    workers: int = 2,
    guard_s: int = 0,
) -> Schedule:
    """A plan of the whole study that the judge has passed; `seconds` limit the whole call.

    OPTIMAL only where every stage is proven; IMPOSSIBLE only where it is proven that not all visits
    can be placed, with reasons. `stop` is asked now and then and keeps the best found. One worker gives
    the same plan for the same files and seed: its seconds are counted as work, so that a busy machine
    takes longer (at most four times as long; only then the plan may be another).
    """
    end = time.monotonic() + seconds
    head = Head(study, plans, now, version)
    budget = Budget.of(seconds - _reserve_s(len(head.asked), seconds), workers, progress, stop)
    faults = [fault for plan in plans.values() if (fault := cannot_be_kept(plan))]
    if faults:
        return head.nothing(faults)
    if len(study.open) == 1:
        return _one_day(head, budget, guard_s)
    return _many_days(head, budget, guard_s, end)


def _reserve_s(visits: int, seconds: float) -> float:
    """Seconds kept for judging and writing, before it is known how fast the machine is."""
    return min(RESERVE_S + RESERVE_VISIT_S * visits, MOST_RESERVE * seconds)


def pack_one_day(
    study: Study,
    plans: Mapping[str, VisitPlan],
    schedule: Schedule,
    day: date,
    *,
    seconds: float,
    now: datetime,
    progress: Callable[[Progress], None] | None = None,
    stop: Callable[[], bool] | None = None,
    workers: int = 2,
    guard_s: int = 0,
) -> Schedule:
    """The plan with that day packed anew: the same visits, the day's own rigs and people; other days stay.

    Where nothing better was found in the time the day stays as it was, without what can no longer be done on
    it. FaultyInput where the plan has no visit on that day, or is none of this study. Who is asked for since
    the plan was made has no place in it, and is named.
    """
    budget = Budget.of(seconds - _reserve_s(len(schedule.visits), seconds), workers, progress, stop)
    _refuse_other_study(schedule, study)
    if day not in schedule.dates:
        place = Place("plan")
        words = f"the plan has no visit on {day}"
        hint = f"Its days are {', '.join(map(str, schedule.dates))}." if schedule.dates else ""
        raise FaultyInput([Fault(place, "no-visits", words, hint)])
    running = running_from(study, plans, schedule, guard_s)
    why_not = cannot_stay(schedule, study, plans)
    standing = sum(key(visit) not in why_not for visit in schedule.on(day))
    seconds = budget.left_s
    polish_day(running, day, budget, seconds=seconds, stages=DAY_STAGES, finer=True, at_least=standing)
    head = Head(study, plans, now, schedule.version + 1)
    out = [visit for visit in schedule.on(day) if key(visit) not in running.visits]
    since = [NotPlaced(*key(visit), why_not.get(key(visit), f"no place was found on {day}")) for visit in out]
    since += [NotPlaced(*key(visit), NOT_YET) for visit in newcomers(schedule, study)]
    bounds = {stage.name: stage.bound for stage in schedule.stages}
    if "placed" in bounds:
        bounds["placed"] += len(since) - len(out)  # nobody has shown that newcomers have no place
    left = (*schedule.not_placed, *since)
    made = head.schedule(running, bounds, schedule.reasons, replaces=schedule.version, left=left)
    return judged(replace(made, status=status_of(made.stages, made)), study, plans, day=day)


def _refuse_other_study(schedule: Schedule, study: Study) -> None:
    """FaultyInput where the plan was made for another study."""
    if schedule.study != study.name:
        words = f"the plan is of the study {schedule.study!r}, and this is {study.name!r}"
        raise FaultyInput([Fault(Place("plan"), "other-study", words, "Give the plan of this study.")])


def running_from(
    study: Study, plans: Mapping[str, VisitPlan], schedule: Schedule, guard_s: int = 0
) -> Running:
    """A plan opened for changes."""
    tasks: dict[date, tuple[RigTask, ...]] = {}
    for task in schedule.rig_tasks:
        tasks[task.start.date()] = (*tasks.get(task.start.date(), ()), task)
    return Running(study, plans, {key(v): v for v in schedule.visits}, tasks, guard_s)


def _one_day(head: Head, budget: Budget, guard_s: int) -> Schedule:
    study, (day,) = head.study, head.study.open
    limits = Bounds(study, head.plans)
    chosen = comers(study, day, limits.most_placed())
    problem = DayProblem(study, head.plans, day, chosen.visits, guard_s=guard_s)
    result = _best_day(problem, budget, DAY_STAGES[:1], ASK_FIRST * budget.left_s)
    most = min(result.stages[0].bound if chosen.is_exact else len(head.asked), limits.most_placed())
    rest_s = budget.left_s
    if len(result.visits) < len(head.asked):
        rest_s -= _explain_s(rest_s)
        if len(result.visits) == most:  # proven: no plan of the day places more
            rest_s = min(rest_s, SOME_ONLY_S)
    result = _best_day(problem, budget, DAY_STAGES, rest_s, result)
    running = Running(study, head.plans, {key(v): v for v in result.visits}, {day: result.rig_tasks}, guard_s)
    bounds = {stage.name: stage.bound for stage in result.stages}
    if not chosen.is_exact:
        fill(running, budget.part(FILL * budget.left_s))
        few = least_waiting_s(head.asked, head.plans, len(running.visits))
        bounds = {"placed": len(head.asked), "waiting_s": few, "last_end_s": 0, "spare_s": MOST_SPARE_S}
    bounds["placed"] = min(bounds["placed"], most)
    return finished(head, running, bounds, budget, limits)


def _explain_s(left_s: float) -> float:
    """Of the time left, what is kept for saying why not: a share, but in a short call enough of it."""
    return max(EXPLAIN * left_s, min(EXPLAIN_S, left_s / 2))


def _best_day(
    problem: DayProblem, budget: Budget, stages: Sequence[str], seconds: float, known: DayResult | None = None
) -> DayResult:
    budget.spend_on_day(seconds, len(problem.visits))
    return pack_day(
        problem,
        seconds=seconds,
        stages=stages,
        hint=known.visits if known else (),
        workers=budget.workers,
        seed=problem.study.seed,
        progress=budget.report,
        stop=budget.stops,
    )


def _many_days(head: Head, budget: Budget, guard_s: int, end: float) -> Schedule:
    study, plans = head.study, head.plans
    packer = DaysPacker(study, plans, budget, guard_s=guard_s)
    found = packer.pack()
    tasks: dict[date, tuple[RigTask, ...]] = {}
    for task in found.tasks:
        tasks[task.start.date()] = (*tasks.get(task.start.date(), ()), task)
    running = Running(study, plans, {key(v): v for v in found.visits}, tasks, guard_s)
    budget = _last_budget(head, running, budget, end)
    fill(running, budget.part(0.4 * budget.left_s))
    resettle(running, budget.part(0.4 * budget.left_s))
    most, least = found.bounds.most_placed(), found.least_last_day
    settle_again(running, budget.part(0.5 * budget.left_s), most=most, least_last_day=least)
    polish_s = (0.4 if running.missing() else 1.0) * budget.left_s
    polish(running, budget.part(polish_s), share_s=POLISH_S, stages=POLISH_STAGES)
    share_early(running)
    bounds = {
        "placed": most,
        "last_day": least,
        "waiting_s": least_waiting_s(head.asked, plans, len(running.visits)),
    }
    return finished(head, running, bounds, budget, found.bounds)


def _last_budget(head: Head, running: Running, budget: Budget, end: float) -> Budget:
    """The budget with what the end really needs kept back: a part of the plan is summed up and judged."""
    if budget.workers == 1:
        return budget
    began = time.monotonic()
    some = dict(list(running.visits.items())[:SAMPLE])
    part = head.schedule(replace(running, visits=some), {})
    verify(part, head.study, head.plans)
    plan_json(part)
    each = (time.monotonic() - began) / max(1, len(some))
    return replace(budget, until=end - END_S - SLOWER * each * len(running.visits))
