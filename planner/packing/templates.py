"""A template: one full day of made-up visits, any part of which works; its slots are handed to real visits.

Every slot has rigs and people of its own, for each type of visit it takes. Slots may be left empty,
and each may hold any of its types, without a look at the other slots.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from planner.clock import ClockRange, Interval, later
from planner.packing.day import pack_day
from planner.packing.lanes import Lane, lane_study
from planner.packing.problem import DayProblem, DayResult, key
from planner.packing.progress import Stop
from planner.packing.put_in import put_in
from planner.schedule.model import Activity, PlacedVisit, PlacedWatch, RigTask
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

STAGES = ("placed", "waiting_s")

Type = tuple[str, ClockRange | None]  # protocol, and when such a visit may start


def type_of(visit: Visit) -> Type:
    """What a slot must know of a visit."""
    return visit.protocol, visit.start


@dataclass(frozen=True)
class Slot:
    """One place in the day; `visits[type]` is how a visit of that type lies in it."""

    visits: Mapping[Type, PlacedVisit]


@dataclass(frozen=True)
class Template:
    """The slots of one lane's day, the rigs' first tasks, and by type the proven most visits (if any)."""

    day: date
    lane: Lane
    slots: tuple[Slot, ...]
    tasks: tuple[RigTask, ...]
    most: Mapping[Type, int] = field(default_factory=dict)


@dataclass
class TemplateMaker:
    """Makes templates of one study; each solve gets its share of the time."""

    study: Study
    plans: Mapping[str, VisitPlan]
    workers: int = 2
    guard_s: int = 0
    stop: Stop | None = None

    def make(
        self,
        lane: Lane,
        day: date,
        wanted: Sequence[tuple[Type, int]],
        fixed: Sequence[PlacedVisit],
        fixed_tasks: Sequence[RigTask],
        seconds: float,
    ) -> Template:
        """As many of the first type as found, then of the next, around what is fixed."""
        until = time.monotonic() + seconds
        bench = _Bench(self, lane, day, tuple(fixed), tuple(fixed_tasks))
        slots: list[dict[Type, PlacedVisit]] = []
        most: dict[Type, int] = {}
        for number, (kind, count) in enumerate(wanted):
            share = (until - time.monotonic()) * (0.7 if number == 0 and len(wanted) > 1 else 1.0)
            result = bench.fill(kind, count, max(0.3, share))
            if number == 0 and not fixed and result.stages and result.stages[0].bound < count:
                most[kind] = result.stages[0].bound
            slots += [{kind: visit} for visit in result.visits]
        for kind, _ in wanted:
            bench.also_take(kind, slots)
        return Template(day, lane, tuple(Slot(s) for s in slots), tuple(bench.tasks), most)


class _Bench:
    """One lane on one day while its template is made."""

    def __init__(
        self,
        maker: TemplateMaker,
        lane: Lane,
        day: date,
        fixed: tuple[PlacedVisit, ...],
        tasks: tuple[RigTask, ...],
    ) -> None:
        self.maker = maker
        self.day = day
        self.study = lane_study(maker.study, lane)
        self.fixed = list(fixed)
        self.tasks = [task for task in tasks if task.rig in lane.rigs]
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
    ) -> DayProblem:
        study = replace(self.study, asked={**self.study.asked, **self.made})
        return DayProblem(
            study,
            self.maker.plans,
            self.day,
            tuple(visits),
            frozen=tuple(frozen),
            frozen_tasks=tuple(self.tasks),
            start_windows=windows or {},
            guard_s=self.maker.guard_s,
        )

    def fill(self, kind: Type, count: int, seconds: float) -> DayResult:
        """As many visits of that type as found beside what is there; they stay."""
        first = len(self.made) + 1
        visits = [self._visit(kind, f"slot-{first + n}") for n in range(count)]
        result = pack_day(
            self._problem(visits, self.fixed),
            seconds=seconds,
            stages=STAGES,
            workers=self.maker.workers,
            seed=self.study.seed,
            stop=self.maker.stop,
        )
        self.fixed += result.visits
        known = list(self.tasks)
        self.tasks += [task for task in result.rig_tasks if task not in known]
        return result

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


def moved(visit: PlacedVisit, day: date, names: Mapping[str, str], real: Visit) -> PlacedVisit:
    """The slot's visit for a real one: on that day at the same clock times, with new names."""
    activities = tuple(_moved(activity, day, names) for activity in visit.activities)
    return PlacedVisit(real.participant, real.kind, real.number, real.condition, activities)


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
