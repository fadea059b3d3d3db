"""Another day for a visit that cannot be on its own: the others stay where they are."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from planner.packing.day import pack_day
from planner.packing.mend.study import closed_before_checks
from planner.packing.problem import DayResult, key
from planner.packing.progress import Stop
from planner.packing.running import Running
from planner.schedule.model import NotPlaced, Outcome, PlacedVisit, RigTask
from planner.study.model import Visit

EACH_DAY_S = 1.5
NAMED_DAYS = 6
Place = tuple[PlacedVisit, tuple[RigTask, ...]]


@dataclass(frozen=True)
class Elsewhere:
    """New places for a visit and for later ones that had to move with it, or why there is none."""

    visits: tuple[PlacedVisit, ...] = ()
    tasks: tuple[RigTask, ...] = ()
    not_placed: tuple[NotPlaced, ...] = ()


def offer_days(
    running: Running, visit: Visit, after: date, why: str, until: float, stop: Stop | None = None
) -> Elsewhere:
    """The first day after `after` that takes the visit with everything else untouched.

    Where there is none, the participant's later visits are moved as well, as far back as they must.
    `running` has everything but the visit, and is not changed.
    """
    trial, search = _copy(running), DaySearch(after, until, stop)
    if found := search.first_day(trial, visit):
        return Elsewhere((found[0],), found[1])
    asked = running.study.asked[visit.participant]
    followers = [v for v in asked[asked.index(visit) + 1 :] if key(v) in trial.visits]
    for count in range(1, len(followers) + 1):
        if moved := _with_followers(running, visit, followers[:count], search):
            return moved
    words = f"{why}; {search.words(running, visit)}{_staying(followers)}"
    return Elsewhere(not_placed=(NotPlaced(visit.participant, visit.file_id, words),))


def why_none(running: Running, visit: Visit, after: date) -> str:
    """Why there is no day after `after` that could be tried for the visit, in words."""
    study = running.study
    if len(study.open) == 1:
        return "the study has no other day"
    if not any(day > after for day in study.open):
        return f"the study has no open day after {after}"
    if not has_day_but(running, visit, after, after):
        return "on no later day may it be: see the participant's availability, and what is fixed"
    uncapped = Running(
        replace(study, at_most_visits_a_day=None), running.plans, running.visits, running.tasks
    )
    if not any(day > after for day in uncapped.days_for(visit)):
        return f"the distances to {visit.participant}'s other visits leave it no later day"
    most = study.at_most_visits_a_day
    return f"each later day that it may have has its {most} visit{'' if most == 1 else 's'} already"


def has_day_but(running: Running, visit: Visit, day: date, since: date) -> bool:
    """Whether the visit may be on an open day from `since` on other than `day`, whatever else is there."""
    return any(one >= since and one != day for one in running.hours.lines(visit))


def _staying(followers: Sequence[Visit]) -> str:
    """That later visits stay where they were told, though what they follow does not come first."""
    if not followers:
        return ""
    names = " and ".join(visit.file_id for visit in followers)
    return f"; {names} {'stays' if len(followers) == 1 else 'stay'} in the plan without it"


def _copy(running: Running) -> Running:
    return Running(running.study, running.plans, dict(running.visits), dict(running.tasks), running.guard_s)


@dataclass
class DaySearch:
    """Tries days after `after` until time is up or a stop is asked for; remembers what it tried of whom."""

    after: date
    until: float
    stop: Stop | None
    tried: dict[Visit, dict[date, bool]] = field(default_factory=dict)  # whether it is proven not to fit
    is_cut_short: bool = False

    def first_day(self, running: Running, visit: Visit) -> Place | None:
        """Places the visit on its first day that takes it, in `running` too."""
        tried = self.tried.setdefault(visit, {})
        for day in running.days_for(visit):
            if day <= self.after:
                continue
            if time.monotonic() > self.until or (self.stop and self.stop()):
                self.is_cut_short = True
                return None
            result = self._on(running, visit, day)
            tried[day] = result.status is Outcome.IMPOSSIBLE
            if result.visits:
                running.visits[key(visit)] = result.visits[0]
                running.tasks[day] = (*running.tasks.get(day, ()), *result.rig_tasks)
                return result.visits[0], result.rig_tasks
        return None

    def _on(self, running: Running, visit: Visit, day: date) -> DayResult:
        problem = running.problem(day, [visit], frozen=running.on(day))
        checks = running.tasks.get(day, ())  # they stay, also where no visit is left on the day
        study = closed_before_checks(problem.study, checks)
        problem = replace(problem, study=study, frozen_tasks=checks)
        stages = ("placed", "waiting_s")
        return pack_day(problem, seconds=EACH_DAY_S, stages=stages, seed=running.study.seed, stop=self.stop)

    def words(self, running: Running, visit: Visit) -> str:
        """What was tried for the visit, in vain; what was not looked at is never called impossible."""
        tried = self.tried.get(visit, {})
        days = ", ".join(map(str, list(tried)[:NAMED_DAYS])) + (
            " and later" if len(tried) > NAMED_DAYS else ""
        )
        if self.is_cut_short:
            return "no other day was found in the time" + (f" (tried: {days})" if days else "")
        if not tried:
            return why_none(running, visit, self.after)
        head = "no other day takes it" if all(tried.values()) else "on no other day was a place found"
        return f"{head} (tried: {days})"


def _with_followers(
    running: Running, visit: Visit, followers: list[Visit], search: DaySearch
) -> Elsewhere | None:
    """The visit and those after it, each on its first day; None where one has none."""
    trial = _copy(running)
    for follower in followers:
        del trial.visits[key(follower)]
    visits: list[PlacedVisit] = []
    tasks: list[RigTask] = []
    for one in (visit, *followers):
        found = search.first_day(trial, one)
        if found is None:
            return None
        visits.append(found[0])
        tasks += found[1]
    return Elsewhere(tuple(visits), tuple(tasks))
