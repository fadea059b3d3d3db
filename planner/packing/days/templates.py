"""A template: one full day of made-up visits, any part of which works; its slots are handed to real visits.

Every slot has rigs and people of its own, for each type of visit it takes. Slots may be left empty,
and each may hold any of its types, without a look at the other slots.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from datetime import time as clock_time

from planner.clock import ClockRange, Interval, at_clock, later
from planner.packing.budget import Budget
from planner.packing.day import pack_day
from planner.packing.days.lanes import Lane, lane_study
from planner.packing.greedy import greedy
from planner.packing.problem import DayProblem, DayResult, key
from planner.packing.progress import Progress, Stop
from planner.packing.put_in import put_in
from planner.packing.realise import placed_visits, rig_tasks
from planner.packing.translate import translate
from planner.schedule.model import Activity, Outcome, PlacedVisit, PlacedWatch, RigTask
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

AT_ONCE_S = 0.1
FEW_ROUNDS, MANY_ROUNDS = 10, 40  # orders of visits that a first plan tries
FEW, FEW_S = 6, 0.3  # so few visits are packed properly all the same; it takes hardly longer
QUICK_S = 0.5  # with less than that a first plan is all there is time for
CALM = 0.4  # of the time for one type, for having its visits wait less
LEAST_CALM = 0.2  # also where a hunt has used all of it: the choice of slots is worth more

Type = tuple[str, ClockRange | None]  # protocol, and when such a visit may start
Span = tuple[int, int]  # from and to on the clock on the wall, in seconds since midnight
WantedHours = Sequence[tuple[Span, int]]  # spans, and how many visits could use a slot in each


def type_of(visit: Visit) -> Type:
    """What a slot must know of a visit."""
    return visit.protocol, visit.start


@dataclass(frozen=True)
class Slot:
    """One place in the day; `visits[type]` is how a visit of that type lies in it."""

    visits: Mapping[Type, PlacedVisit]


@dataclass(frozen=True)
class Template:
    """The slots of one lane's day, the rigs' first tasks, and by type the proven most visits (if any).

    `firsts` are the visits of the type that was put in first.
    """

    day: date
    lane: Lane
    slots: tuple[Slot, ...]
    tasks: tuple[RigTask, ...]
    most: Mapping[Type, int] = field(default_factory=dict)
    firsts: tuple[PlacedVisit, ...] = ()


@dataclass(frozen=True)
class Hunt:
    """More time for placing visits, until their number is enough."""

    seconds: float
    is_enough: Callable[[int], bool]


@dataclass
class TemplateMaker:
    """Makes templates of one study; each solve gets its share of the time."""

    study: Study
    plans: Mapping[str, VisitPlan]
    budget: Budget
    guard_s: int = 0

    def make(
        self,
        lane: Lane,
        day: date,
        wanted: Sequence[tuple[Type, int]],
        fixed: Sequence[PlacedVisit],
        fixed_tasks: Sequence[RigTask],
        seconds: float,
        known: Template | None = None,
        *,
        seed: int = 1,
        hunt: Hunt | None = None,
        hours: Mapping[Type, WantedHours] | None = None,
    ) -> Template:
        """As many of the first type as found, then of the next, around what is fixed, and then for `hours`.

        With a `known` template one visit more of the first type is enough, and its search goes on from there.
        A `hunt` is for the first type.
        """
        bench = _Bench(self, lane, day, tuple(fixed), tuple(fixed_tasks), seed)
        slots: list[dict[Type, PlacedVisit]] = []
        most: dict[Type, int] = {}
        firsts: tuple[PlacedVisit, ...] = ()
        left_s = seconds
        for number, (kind, count) in enumerate(wanted):
            part = max(0.0, left_s * (0.7 if number == 0 and len(wanted) > 1 else 1.0))
            first = number == 0
            result = bench.fill(kind, count, part, known if first else None, hunt if first else None)
            left_s -= part
            if first:
                firsts = result.visits
            if first and not fixed and result.stages and result.stages[0].bound < count:
                most[kind] = result.stages[0].bound
            slots += [{kind: visit} for visit in result.visits]
        for kind, _ in wanted:
            bench.also_in(kind, (hours or {}).get(kind, ()), slots)
        for kind, _ in wanted:
            bench.also_take(kind, slots)
        return Template(day, lane, tuple(Slot(s) for s in slots), tuple(bench.tasks), most, firsts)


class _Bench:
    """One lane on one day while its template is made."""

    def __init__(
        self,
        maker: TemplateMaker,
        lane: Lane,
        day: date,
        fixed: tuple[PlacedVisit, ...],
        tasks: tuple[RigTask, ...],
        seed: int,
    ) -> None:
        self.maker = maker
        self.seed = seed
        self.day = day
        self.study = lane_study(maker.study, lane)
        self.fixed = list(fixed)
        self.tasks = list(tasks)  # of other lanes' rigs too: people of this one may do them
        self.made: dict[str, tuple[Visit, ...]] = {}

    def _visit(self, kind: Type, name: str) -> Visit:
        protocol, start = kind
        visit = Visit(name, "slot", None, None, protocol, None, start)
        self.made[name] = (visit,)
        return visit

    def _problem(
        self,
        visits: Sequence[Visit],
        frozen: Sequence[PlacedVisit],
        windows: Mapping[tuple[str, str], tuple[Interval, ...]] | None = None,
        *,
        must: bool = False,
    ) -> DayProblem:
        study = replace(self.study, asked={**self.study.asked, **self.made})
        return DayProblem(
            study,
            self.maker.plans,
            self.day,
            tuple(visits),
            must=frozenset(visits) if must else frozenset(),
            frozen=tuple(frozen),
            frozen_tasks=tuple(self.tasks),
            start_windows=windows or {},
            guard_s=self.maker.guard_s,
        )

    def fill(
        self, kind: Type, count: int, seconds: float, known: Template | None, hunt: Hunt | None
    ) -> DayResult:
        """As many visits of that type as found beside what is there, waiting little; they stay."""
        first = len(self.made) + 1
        visits = [self._visit(kind, f"slot-{first + n}") for n in range(count)]
        least = len(known.firsts) + 1 if known else count
        search_s, calm_s = seconds * (1 - CALM) + (hunt.seconds if hunt else 0.0), seconds * CALM
        if seconds < QUICK_S and search_s < QUICK_S:
            if len(visits) > FEW:
                return self._keep(self._at_once(visits))
            search_s, calm_s = max(search_s, FEW_S * (1 - CALM)), max(calm_s, FEW_S * CALM)

        def is_enough(placed: int) -> bool:
            return placed >= least or (hunt is not None and hunt.is_enough(placed))

        began = time.monotonic()
        full = self._packed(visits, ("placed",), search_s, known.firsts if known else (), is_enough)
        if self.maker.budget.workers > 1:
            calm_s = max(LEAST_CALM * seconds, seconds - (time.monotonic() - began))
        here = set(map(key, full.visits))
        calm = [visit for visit in visits if key(visit) in here]
        result = self._packed(calm, ("waiting_s",), calm_s, full.visits) if calm else full
        if len(result.visits) < len(full.visits):
            result = full
        return self._keep(replace(result, stages=full.stages))

    def _keep(self, result: DayResult) -> DayResult:
        """Everything that comes later is put in beside these visits."""
        self.fixed += result.visits
        tasks = list(self.tasks)
        self.tasks += [task for task in result.rig_tasks if task not in tasks]
        return result

    def _at_once(self, visits: Sequence[Visit]) -> DayResult:
        """A first plan in an instant, nothing proven."""
        problem = self._problem(visits, self.fixed)
        core, grid = translate(problem)
        rounds = FEW_ROUNDS if self.maker.budget.workers == 1 else MANY_ROUNDS
        answer = greedy(core, seconds=None if self.maker.budget.workers == 1 else AT_ONCE_S, rounds=rounds)
        self.maker.budget.spend_on_day(AT_ONCE_S, len(visits))
        placed, tasks = placed_visits(problem, core, grid, answer), rig_tasks(core, grid, answer)
        return DayResult(placed, tasks, (), (), (), Outcome.FEASIBLE, proven=False, first_s=0.0, solver="")

    def _packed(
        self,
        visits: Sequence[Visit],
        stages: Sequence[str],
        seconds: float,
        hint: Sequence[PlacedVisit],
        enough: Callable[[int], bool] | None = None,
    ) -> DayResult:
        """The day with these visits, all of which must come unless some are enough."""
        budget = self.maker.budget
        # One worker does its whole part: when a stop comes through depends on the machine.
        until = _Enough(enough, budget.stops) if enough is not None and budget.workers > 1 else None
        budget.spend_on_day(seconds, len(visits))
        return pack_day(
            self._problem(visits, self.fixed, must=enough is None),
            seconds=seconds,
            stages=stages,
            hint=hint,
            workers=budget.workers,
            seed=self.seed,
            progress=until.hear if until else None,
            stop=until or budget.stops,
        )

    def also_in(self, kind: Type, hours: WantedHours, slots: list[dict[Type, PlacedVisit]]) -> None:
        """More slots in spans that have fewer than are wanted there, beside all that is there already."""
        for (from_s, to_s), count in hours:
            start, end = (_at(self.day, wall, self.study) for wall in (from_s, to_s))
            there = sum(1 for s in slots if kind in s and start <= s[kind].start and s[kind].end <= end)
            last = later(end, -self.maker.plans[kind[0]].shortest_s)
            while there < count and start <= last and not self.maker.budget.is_over:
                visit = self._visit(kind, f"slot-{len(self.made) + 1}")
                found = put_in(self._problem([visit], self.fixed, {key(visit): (Interval(start, last),)}))
                if not found or found[0].end > end:
                    break
                slots.append({kind: found[0]})
                self.fixed.append(found[0])
                self.tasks += [task for task in found[1] if task not in self.tasks]
                there += 1

    def also_take(self, kind: Type, slots: list[dict[Type, PlacedVisit]]) -> None:
        """For each slot of another type, a way to hold a visit of this type that disturbs no other slot."""
        for slot in slots:
            if kind in slot:
                continue
            own = set(map(key, slot.values()))
            others = [visit for visit in self.fixed if key(visit) not in own]
            spans = slot.values()
            start, end = max(v.start for v in spans), min(v.end for v in spans)
            if start >= end:
                continue
            visit = self._visit(kind, f"slot-{len(self.made) + 1}")
            window = {key(visit): (Interval(start, later(end, -1)),)}
            if found := put_in(self._problem([visit], others, window)):
                slot[kind] = found[0]
                self.fixed.append(found[0])
                self.tasks += [task for task in found[1] if task not in self.tasks]


class _Enough:
    """Asks a search to stop once enough visits have a place, or somebody else asks."""

    def __init__(self, is_enough: Callable[[int], bool], stop: Stop | None) -> None:
        self.is_enough, self.stop, self.placed, self.is_over = is_enough, stop, 0, False

    def hear(self, progress: Progress) -> None:
        if progress.placed > self.placed:
            self.placed = progress.placed
            self.is_over = self.is_enough(self.placed)

    def __call__(self) -> bool:
        return self.is_over or (self.stop is not None and self.stop())


def moved(visit: PlacedVisit, day: date, names: Mapping[str, str], real: Visit) -> PlacedVisit:
    """The slot's visit for a real one: on that day at the same clock times, with new names."""
    activities = tuple(_moved(activity, day, names) for activity in visit.activities)
    return PlacedVisit(real.participant, real.kind, real.number, real.condition, activities)


def _at(day: date, wall: int, study: Study) -> datetime:
    return at_clock(day, clock_time(wall // 3600, wall // 60 % 60, wall % 60), study.zone)


def _moved(activity: Activity, day: date, names: Mapping[str, str]) -> Activity:
    return Activity(
        activity.step,
        activity.at_s,
        activity.manoeuvre,
        tuple(names[r] for r in activity.rigs),
        _renamed(activity.staff, names),
        _on(activity.start, day),
        None if activity.first_effort is None else _on(activity.first_effort, day),
        _on(activity.end, day),
        _on(activity.rig_free, day),
        activity.planned_efforts,
        PlacedWatch(_renamed(activity.watch.staff, names), _on(activity.watch.end, day))
        if activity.watch
        else None,
        _renamed(activity.clear_staff, names),
    )


def moved_task(task: RigTask, day: date, names: Mapping[str, str]) -> RigTask:
    """The rig's task on another day, with new names."""
    return RigTask(names[task.rig], _renamed(task.staff, names), _on(task.start, day), _on(task.end, day))


def _renamed(staff: Mapping[str, str], names: Mapping[str, str]) -> Mapping[str, str]:
    return {role: names[person] for role, person in staff.items()}


def _on(moment: datetime, day: date) -> datetime:
    return datetime.combine(day, moment.timetz())


def names_between(old: Lane, new: Lane) -> Mapping[str, str]:
    """From the rigs and people of one lane to those of a lane with the same signature."""
    rigs = zip(old.rigs, new.rigs, strict=True)
    return dict([*rigs, *zip(old.people, new.people, strict=True)])


def rigs_used(visits: Iterable[PlacedVisit]) -> frozenset[str]:
    """The rigs that these visits use."""
    return frozenset(rig for visit in visits for activity in visit.activities for rig in activity.rigs)
