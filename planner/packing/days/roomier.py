"""More room for visits over many days, before any is left out: fuller days spread, single visits moved.

A day that is packed full is unsure, and other days often stand empty beside it. The study is packed anew with
rigs and people held before windowed blocks and with ever fewer visits a day, as long as all keep a place,
until so few visits are short of their chance that there is time to make their days steadier.
"""

from __future__ import annotations

import math
import time
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date

from planner.packing.budget import Budget
from planner.packing.chance.odds import DayOdds
from planner.packing.pack import pack
from planner.packing.problem import VisitKey, key
from planner.packing.put_in import put_in
from planner.packing.running import Running
from planner.schedule.model import PlacedVisit, RigTask, Schedule
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

HELD_S = 120  # before each windowed block
FEWER = 0.75  # times as many visits on the fullest day, each time
WAYS = 4  # of packing that are tried at most
VISIT_S = 3.0  # what it takes to make one visit sure that is not, as a rule
DAYS_TRIED = 6  # to which one visit may go
Missing = Callable[[DayOdds], Mapping[VisitKey, float]]


def crowd_words(before: Schedule, after: Schedule) -> tuple[str, ...]:
    """What became of the fullest day, where its visits were spread."""
    most, were = fullest(after), fullest(before)
    if not most or most >= were:
        return ()
    last, then = max(after.dates), max(before.dates)
    words = f"At most {most} visits on one day, where {were} were; the last day is {last}"
    return (f"{words}, as it was." if last == then else f"{words}, where it was {then}.",)


def spread_out(
    study: Study,
    plans: Mapping[str, VisitPlan],
    plain: Schedule,
    play: Callable[[Schedule], DayOdds],
    missing: Missing,
    budget: Budget,
    seconds: float,
    steady_s: float,
) -> Schedule:
    """The plan that lacks least of its chances among those that place as many visits as `plain`.

    `missing` says what visits lack to the chance asked for; those that lack nothing are not in it.
    `steady_s` are left afterwards for making days steadier.
    """
    best, lacks = plain, missing(play(plain))
    most = fullest(plain)
    floor = math.ceil(plain.placed / max(1, len(study.open)))
    for way in range(WAYS):
        if len(lacks) * VISIT_S <= steady_s or _is_over(budget) or (way and most <= floor):
            break
        most = most if way == 0 else max(floor, math.floor(FEWER * most))
        made = pack(
            replace(study, at_most_visits_a_day=most),
            plans,
            seconds=min(seconds / WAYS, budget.left_s) if budget.workers > 1 else seconds / WAYS,
            now=plain.made,
            version=plain.version,
            stop=budget.stop,
            workers=budget.workers,
            guard_s=HELD_S,
        )
        if made.placed < plain.placed:
            if way:
                break
            continue
        found = missing(play(made))
        if sum(found.values()) < sum(lacks.values()):
            best, lacks = made, found
    return best


def _is_over(budget: Budget) -> bool:
    """With one worker ways are counted, and only a stop ends them."""
    return (budget.stop is not None and budget.stop()) if budget.workers == 1 else budget.is_over


def fullest(schedule: Schedule) -> int:
    """How many visits the fullest day has."""
    return max(Counter(visit.date for visit in schedule.visits).values(), default=0)


def moved_to(
    running: Running, names: Sequence[VisitKey], day: date, is_good: Callable[[date], bool], until: float
) -> dict[VisitKey, date] | None:
    """Puts visits of one participant, in their order and the first from that day, onto days that hold less.

    Each of those days must be good with its visit. Returns the days, or None (and nothing is changed) where
    there are none, or none was found before `until` on the monotonic clock.
    """
    placed = {name: running.visits.pop(name) for name in names}
    tasks, crowd = dict(running.tasks), 1 + len(running.on(day))
    if _put_all(running, list(names), day, crowd, is_good, until):
        return {name: running.visits[name].date for name in names if running.visits[name] != placed[name]}
    running.visits.update(placed)
    running.tasks.clear()
    running.tasks.update(tasks)
    return None


def placed_again(
    running: Running, names: Sequence[VisitKey], is_good: Callable[[date], bool], until: float
) -> bool:
    """Puts visits of one participant that have no place, in their order, where days are good with them."""
    return _put_all(running, list(names), None, 10**6, is_good, until)


def _put_all(
    running: Running,
    names: list[VisitKey],
    day: date | None,
    crowd: int,
    is_good: Callable[[date], bool],
    until: float,
    is_first: bool = True,
) -> bool:
    """Puts the first where it is good there, days that hold least first, and the others after it, soon."""
    if not names:
        return True
    name, *others = names
    visit = next(v for v in running.study.asked[name[0]] if key(v) == name)
    fewer = [d for d in running.days_for(visit) if d != day and len(running.on(d)) + 1 < crowd]
    if is_first:
        fewer.sort(key=lambda d: (len(running.on(d)), d))
    for other in fewer[:DAYS_TRIED]:
        if time.monotonic() > until:
            return False
        before = running.tasks.get(other, ())
        if (found := _place(running, visit, other)) is None:
            continue
        running.visits[name] = found[0]
        running.tasks[other] = (*before, *(task for task in found[1] if task not in before))
        if is_good(other) and _put_all(running, others, day, crowd, is_good, until, False):
            return True
        running.visits.pop(name, None)
        running.tasks[other] = before
    return False


def _place(running: Running, visit: Visit, day: date) -> tuple[PlacedVisit, tuple[RigTask, ...]] | None:
    """A place on that day, held before the visit's windows if it can be."""
    for guard_s in (HELD_S, 0):
        problem = running.problem(day, [visit], frozen=running.on(day))
        if (found := put_in(replace(problem, guard_s=guard_s))) is not None:
            return found
    return None
