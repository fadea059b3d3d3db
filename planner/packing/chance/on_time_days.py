"""The days of a plan that is packed for a chance: spread, steadied, and at last a visit moved or left out."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from planner.packing.budget import Budget
from planner.packing.chance.aiming import aim, aimed
from planner.packing.chance.odds import DayOdds
from planner.packing.chance.on_time_words import Price
from planner.packing.chance.steady import TRY_S, SteadyDay, Take
from planner.packing.core import Answer
from planner.packing.day import pack_day
from planner.packing.days.roomier import moved_to, placed_again, spread_out
from planner.packing.head import Head, judged
from planner.packing.pack import running_from
from planner.packing.play import Cast, play
from planner.packing.problem import DayProblem, VisitKey, key
from planner.packing.progress import Progress
from planner.packing.running import Running
from planner.schedule.model import NotPlaced, Outcome, PlacedVisit, Reason, Schedule
from planner.study.model import Visit
from planner.timing.learned import Learned

MARGIN = 0.01  # by which the search aims higher, for it plays less often than the last check
DRAWS, CHECK_DRAWS, SCOUT_DRAWS = 500, 2000, 300
MOVED_WELL = 4  # visits of a full day for which a day is sought that stays sure
LEFT_OUT = "left out, so that the visits of its day keep their windows with the chance asked for"


@dataclass
class Days:
    """The plan in the making, day by day; `prices` are what was reached with more visits than at last."""

    running: Running
    plain: Schedule
    chance: float
    budget: Budget
    late_sd_s: int
    learned: Learned | None
    moves_until: float  # on the monotonic clock
    left: dict[VisitKey, str] = field(default_factory=dict)
    prices: list[Price] = field(default_factory=list)
    moved: dict[VisitKey, date] = field(default_factory=dict)

    def add_places(self, seconds: float) -> float:
        """One day searched on for more visits, where they are not proven to be all; the seconds given out."""
        study, plain = self.running.study, self.plain
        self.left.update({(gone.participant, gone.visit): gone.message for gone in plain.not_placed})
        placed = next((stage for stage in plain.stages if stage.name == "placed"), None)
        if len(study.open) > 1 or placed is None or plain.placed in (placed.bound, plain.asked):
            return 0.0
        (day,) = study.open
        asked = tuple(v for several in study.asked.values() for v in several)
        result = pack_day(
            DayProblem(study, self.running.plans, day, asked),
            seconds=seconds,
            stages=("placed",),
            hint=plain.visits,
            workers=self.budget.workers,
            seed=study.seed,
            progress=self.budget.report,
            stop=self.budget.stop,
        )
        if len(result.visits) > plain.placed:
            self.running.visits = {key(visit): visit for visit in result.visits}
            self.running.tasks[day] = result.rig_tasks
        return seconds

    def spread(self, seconds: float, steady_s: float) -> None:
        """Over many days, the same visits with more room, where days are short of their chances."""
        study, plans = self.running.study, self.running.plans
        if len(study.open) < 2 or not self.plain.visits:
            return
        found = spread_out(
            study, plans, self.plain, self._played, self.missing, self.budget, seconds, steady_s
        )
        self.running = running_from(study, plans, found)

    def _played(self, schedule: Schedule, draws: int = DRAWS) -> DayOdds:
        study, plans = self.running.study, self.running.plans
        return play(study, plans, schedule, draws=draws, late_sd_s=self.late_sd_s, learned=self.learned)

    def missing(self, odds: DayOdds) -> dict[VisitKey, float]:
        """What visits lack to their aims; those that lack nothing are not in it."""
        lacks = {(v.participant, v.visit): aim(v, self.chance) - v.all_windows for v in odds.visits}
        return {name: lack for name, lack in lacks.items() if lack > 0}

    def short_days(self) -> list[date]:
        """Days with a visit short of its chance, those first that lack least: they are soonest mended."""
        lacks: dict[date, float] = {}
        for name, lack in self.missing(self._played(self.schedule(), CHECK_DRAWS)).items():
            day = self.running.visits[name].date
            lacks[day] = lacks.get(day, 0.0) + lack
        return sorted(lacks, key=lambda day: (lacks[day], day))

    def steady(self, seconds: float) -> None:
        """Makes a single day as steady as can be; of many those that are short, at most twice."""
        seed = self.running.study.seed
        if len(self.running.study.open) == 1:
            for day in {visit.date for visit in self.running.visits.values()}:
                self._steady_day(day, seconds, seed, stay=True)
            return
        for round_ in range(2):
            dates = self.short_days()
            for place, day in enumerate(dates):
                share_s = seconds / (len(dates) - place) * (1.0 if round_ else 0.7)
                began = time.monotonic()
                tries_s = self._steady_day(day, share_s, seed + round_, stay=False)
                seconds -= tries_s if self.budget.workers == 1 else time.monotonic() - began
            if seconds < TRY_S or self.budget.is_over:
                return

    def check(self, seconds: float) -> None:
        """Plays more often and with other numbers; what is short of its chance is mended for so long at most.

        What still keeps visits from their chance is moved, or left out.
        """
        pending = self.short_days()
        while pending:
            day, before = pending.pop(0), dict(self.moved)
            stage = self._stage(day, CHECK_DRAWS, 1, 0.0, 1)
            take = stage.begin(self.running.on(day), self.running.tasks.get(day, ())) if stage else None
            part_s = seconds / (len(pending) + 2)  # half of it for one day, and what others need is kept
            while stage and take and not stage.is_steady(take):
                began, until = time.monotonic(), time.monotonic() + part_s
                take = stage.improve(take, replace(self.budget, until=until), part_s, enough=stage.is_steady)
                seconds -= part_s if self.budget.workers == 1 else time.monotonic() - began
                part_s = max(0.0, min(part_s, seconds) / 2)
                self._keep(day, take)
                if not stage.is_steady(take):
                    take = self._leave_out(stage, take)
            pending = sorted({*pending, *(self.moved[name] for name in self.moved.keys() - before.keys())})

    def _steady_day(self, day: date, seconds: float, seed: int, *, stay: bool) -> float:
        """One day made steadier for so long (`stay`: also beyond the chance); the seconds given out."""
        stage = self._stage(day, DRAWS, seed + 1_000_003, MARGIN, seed)
        take = stage.begin(self.running.on(day), self.running.tasks.get(day, ())) if stage else None
        if not stage or not take:
            return 0.0
        enough = (lambda one: False) if stay else stage.is_steady
        self._keep(day, stage.improve(take, self._until(seconds), seconds, enough=enough))
        return seconds

    def _until(self, seconds: float) -> Budget:
        return replace(self.budget, until=min(self.budget.until, time.monotonic() + seconds))

    def _stage(self, day: date, draws: int, seed: int, margin: float, search_seed: int) -> SteadyDay | None:
        """The day ready to be played; None where nothing is on it."""
        visits = self.running.on(day)
        if not visits:
            return None
        running, study = self.running, self.running.study
        asked = {key(v): v for several in study.asked.values() for v in several}
        problem = running.problem(day, [asked[key(visit)] for visit in visits])
        cast = Cast(study, running.plans, draws, seed, self.late_sd_s, self.learned)
        cast.roles(visits)
        aims = {key(v): aimed(cast.ceiling(key(v)), self.chance, margin) for v in visits}
        return SteadyDay(problem, cast, aims, self.budget.workers, search_seed, self._tell)

    def _tell(self, steady: int, of: int) -> None:
        """How many visits of the day in hand reach their chance."""
        if self.budget.report:
            placed = len(self.running.visits)
            self.budget.report(Progress("on_time", placed, steady, of, self.budget.left_s))

    def _keep(self, day: date, take: Take) -> None:
        self.running.visits.update({key(visit): visit for visit in take.visits})
        self.running.tasks[day] = take.tasks

    def _leave_out(self, stage: SteadyDay, take: Take) -> Take:
        """The day without the visit without which least is missing: it goes to another day, or nowhere."""
        losses = self._losses_without(stage, take)
        shares = list(take.shares.values())
        gone = self._moved(sorted(losses, key=losses.__getitem__), stage.day)
        if gone is None:
            price = Price(len(self.running.visits), None, sum(shares) / len(shares), min(shares), stage.day)
            self.prices.append(price)
            gone = min(losses, key=lambda name: losses[name] + len(list(self._with_later(name))))
            for name in list(self._with_later(gone)):
                self.running.visits.pop(name)
                self.left[name] = LEFT_OUT
        here = set(map(key, self.running.on(stage.day)))
        elsewhere = {job for name, job in stage.jobs.items() if name not in here}
        chosen = stage.take(_without(take.answer, elsewhere))
        self._keep(stage.day, chosen)
        return chosen

    def _losses_without(self, stage: SteadyDay, take: Take) -> dict[VisitKey, float]:
        """What the day would lack without each of its visits; from their own lacks when time is up."""
        if time.monotonic() > self.moves_until:
            return {name: share - 1.0 for name, share in take.shares.items()}
        scout = self._stage(stage.day, SCOUT_DRAWS, 2, 0.0, 1)
        assert scout is not None
        without = {key(visit): _without(take.answer, {stage.jobs[key(visit)]}) for visit in take.visits}
        return {name: scout.missing(scout.take(answer)) for name, answer in without.items()}

    def _moved(self, names: list[VisitKey], day: date) -> VisitKey | None:
        """The first of these visits for which there is another day: one that stays sure of all, else any.

        Where a visit's later ones are in its way they move with it.
        """
        if len(self.running.study.open) == 1:
            return None
        ways: tuple[tuple[list[VisitKey], bool, Callable[[date], bool]], ...] = (
            (names[:MOVED_WELL], False, self._is_sure),
            (names, True, self._is_sure),
            (names, False, lambda other: True),
        )
        for some, with_later, is_good in ways:
            for name in some:
                together = list(self._with_later(name)) if with_later else [name]
                if self.moved.keys() & together:
                    continue
                found = moved_to(self.running, together, day, is_good, self.moves_until)
                if found is not None:
                    self.moved.update(found)
                    return name
        return None

    def place_again(self) -> None:
        """Visits that were left out, put where all stay sure as they are, as long as there is time."""
        if len(self.running.study.open) == 1:
            return
        together: dict[str, list[VisitKey]] = {}
        for visit in self.running.missing():
            together.setdefault(visit.participant, []).append(key(visit))
        for names in together.values():
            while names and not placed_again(self.running, names, self._is_sure, self.moves_until):
                names.pop()

    def _is_sure(self, day: date) -> bool:
        """Whether every visit of that day reaches its chance as it is."""
        visits = self.running.on(day)
        made = replace(self.plain, visits=visits, rig_tasks=self.running.tasks.get(day, ()))
        return not self.missing(self._played(made, CHECK_DRAWS))

    def _with_later(self, name: VisitKey, among: Collection[VisitKey] | None = None) -> Iterator[VisitKey]:
        asked: tuple[Visit, ...] = self.running.study.asked[name[0]]
        names = [key(visit) for visit in asked]
        placed = self.running.visits if among is None else among
        yield from (other for other in names[names.index(name) :] if other in placed)

    def take_fuller(self, schedule: Schedule) -> None:
        """Takes that plan instead, less the visits that keep others from their chance, if it then holds more.

        On each day that is short the least sure goes, with its later ones, and the day is played anew.
        """
        kept = {key(visit): visit for visit in schedule.visits}
        pending = list(schedule.dates)
        while pending and len(kept) > len(self.running.visits):
            if time.monotonic() > self.moves_until or self.budget.is_stopped():
                return
            day = pending.pop()
            lacks = self._lacks(schedule, tuple(v for v in kept.values() if v.date == day), day)
            if lacks:
                least = max(lacks, key=lambda name: lacks[name])
                gone = list(self._with_later(least, kept))
                pending = list(dict.fromkeys([*pending, *(kept[name].date for name in gone)]))
                kept = {name: visit for name, visit in kept.items() if name not in gone}
        if len(kept) > len(self.running.visits):
            made = replace(schedule, visits=tuple(kept.values()))
            self.running = running_from(self.running.study, self.running.plans, made)
            self.left.update({key(v): LEFT_OUT for v in schedule.visits if key(v) not in kept})
            self.prices, self.moved = [], {}

    def _lacks(self, schedule: Schedule, visits: tuple[PlacedVisit, ...], day: date) -> dict[VisitKey, float]:
        """What these visits of one day lack to their aims."""
        tasks = tuple(task for task in schedule.rig_tasks if task.start.date() == day)
        made = replace(schedule, visits=visits, rig_tasks=tasks)
        return self.missing(self._played(made, CHECK_DRAWS)) if visits else {}

    def schedule(self) -> Schedule:
        """The visits as they are now, with the head of the plan before."""
        tasks = tuple(task for day in sorted(self.running.tasks) for task in self.running.tasks[day])
        return replace(self.plain, visits=tuple(self.running.visits.values()), rig_tasks=tasks)

    def finished(self, now: datetime, words: tuple[str, ...]) -> Schedule:
        """The judged plan. Of its stages only the bound of the places still holds."""
        plain = self.plain
        head = Head(self.running.study, self.running.plans, now, plain.version)
        bounds = {stage.name: stage.bound for stage in plain.stages if stage.name == "placed"}
        before, after = (f"placed {n} of {plain.asked};" for n in (plain.placed, len(self.running.visits)))
        known = (replace(reason, message=reason.message.replace(before, after)) for reason in plain.reasons)
        names = [key(visit) for visit in self.running.missing()]
        left = [
            NotPlaced(*name, self.left.get(name, "no free place was found in the time")) for name in names
        ]
        made = head.schedule(self.running, bounds, (*known, *(Reason(line) for line in words)), left=left)
        status = Outcome.IMPOSSIBLE if plain.status is Outcome.IMPOSSIBLE else Outcome.FEASIBLE
        return judged(replace(made, status=status), head.study, head.plans)


def _without(answer: Answer, jobs: Collection[int]) -> Answer:
    """The answer without some visits; first tasks of rigs stay."""
    return Answer(
        tuple(None if j in jobs else its for j, its in enumerate(answer.starts)),
        tuple(None if j in jobs else its for j, its in enumerate(answer.given)),
    )
