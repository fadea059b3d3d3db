"""A plan in the making: placed visits by day and participant, and what the others leave to one visit."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from planner.clock import DaySpan, Interval, at_clock
from planner.packing.days.lanes import wall_s
from planner.packing.hours import Hours
from planner.packing.problem import DayProblem, VisitKey, key
from planner.schedule.model import PlacedVisit, RigTask
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan


@dataclass(frozen=True)
class Leaning:
    """What one participant's visits are to lean towards, though no rule asks for it.

    `kept` names the rig or person for what stays the same across visits, by class or role; none of the
    visits starts before `from_s` on the clock on the wall.
    """

    kept: Mapping[str, str] = field(default_factory=dict)
    from_s: int = 0


@dataclass
class Running:
    """All that is placed so far; `tasks` by day, `leanings` by participant."""

    study: Study
    plans: Mapping[str, VisitPlan]
    visits: dict[VisitKey, PlacedVisit]
    tasks: dict[date, tuple[RigTask, ...]]
    guard_s: int = 0
    leanings: dict[str, Leaning] = field(default_factory=dict)
    hours: Hours = field(init=False)

    def __post_init__(self) -> None:
        self.hours = Hours(self.study)

    def on(self, day: date) -> tuple[PlacedVisit, ...]:
        """The visits of that day, by start."""
        found = [visit for visit in self.visits.values() if visit.date == day]
        return tuple(sorted(found, key=lambda v: (v.start.timestamp(), v.participant)))

    def by_day(self) -> dict[date, tuple[PlacedVisit, ...]]:
        """The visits of every day that has any, by start; days in order."""
        found: dict[date, list[PlacedVisit]] = {}
        for visit in sorted(self.visits.values(), key=lambda v: (v.start.timestamp(), v.participant)):
            found.setdefault(visit.date, []).append(visit)
        return {day: tuple(visits) for day, visits in found.items()}

    def put_back(
        self, visits: Mapping[VisitKey, PlacedVisit], tasks: Mapping[date, tuple[RigTask, ...]]
    ) -> None:
        """Makes these all that is placed."""
        self.visits.clear()
        self.visits.update(visits)
        self.tasks.clear()
        self.tasks.update(tasks)

    def missing(self) -> list[Visit]:
        """What is asked for and has no place, in the order of the study."""
        return [v for visits in self.study.asked.values() for v in visits if key(v) not in self.visits]

    def others(self, visit: Visit) -> list[tuple[Visit, PlacedVisit]]:
        """The same participant's other placed visits."""
        asked = self.study.asked[visit.participant]
        return [(v, self.visits[key(v)]) for v in asked if v != visit and key(v) in self.visits]

    def days_for(self, visit: Visit) -> list[date]:
        """Days that keep the distance to the participant's other visits and have room under the cap."""
        asked = self.study.asked[visit.participant]
        place = asked.index(visit)
        low, high = self.study.first_day, self.study.last_day
        for other, placed in self.others(visit):
            there = asked.index(other)
            gap = (visit if there < place else other).gap or DaySpan(0, None)
            if there < place:
                low = max(low, placed.date + timedelta(days=gap.at_least))
                if there == place - 1 and gap.at_most is not None:
                    high = min(high, placed.date + timedelta(days=gap.at_most))
            else:
                high = min(high, placed.date - timedelta(days=gap.at_least))
                if there == place + 1 and gap.at_most is not None:
                    low = max(low, placed.date - timedelta(days=gap.at_most))
        return [day for day in sorted(self.hours.lines(visit)) if low <= day <= high and self._has_room(day)]

    def _has_room(self, day: date) -> bool:
        cap = self.study.at_most_visits_a_day
        return cap is None or sum(v.date == day for v in self.visits.values()) < cap

    def start_window(self, visit: Visit, day: date, beside: Collection[Visit] = ()) -> Interval | None:
        """The starts that day which keep to the time of day of the participant's other visits; None: any.

        Others that are to be placed `beside` it may move: all of them together keep to where they are now.
        """
        width = self.study.same_time_of_day_s
        if width is None or not self.hours.is_timed(visit):
            return None
        others = [(other, placed) for other, placed in self.others(visit) if self.hours.is_timed(other)]
        walls = [wall_s(placed.start) for _, placed in others]
        if not walls:
            return None
        first, last = max(0, max(walls) - width), min(86_399, min(walls) + width)
        if any(other in beside for other, _ in others):
            walls += [wall_s(self.visits[key(visit)].start)] if key(visit) in self.visits else []
            first, last = min(walls), min(86_399, min(walls) + width)
        return Interval(_at(day, first, self.study), _at(day, last, self.study))

    def kept(self, visit: Visit) -> dict[str, str]:
        """The rig or person that the participant's other visits keep, by class or role."""
        found: dict[str, str] = {}
        leaning = self.leanings.get(visit.participant, Leaning())
        for item in self.study.keep_same_across:
            for _, placed in self.others(visit):
                for one in used_for(self.study, placed, item):
                    found.setdefault(item, one)
            if item in leaning.kept:
                found.setdefault(item, leaning.kept[item])
        return found

    def problem(
        self, day: date, visits: Iterable[Visit], *, frozen: Iterable[PlacedVisit] = ()
    ) -> DayProblem:
        """The day with these visits to be placed, as other days and what is frozen allow."""
        asked = tuple(visits)
        windows: dict[VisitKey, tuple[Interval, ...]] = {}
        rigs: dict[tuple[VisitKey, str], tuple[str, ...]] = {}
        people: dict[tuple[VisitKey, str], tuple[str, ...]] = {}
        classes = {c for rig in self.study.rigs for c in rig.classes}
        for visit in asked:
            if (window := self.start_window(visit, day, asked)) is not None:
                windows[key(visit)] = (window,)
            elif (leaning := self.leanings.get(visit.participant)) and leaning.from_s:
                windows[key(visit)] = (
                    Interval(*(_at(day, s, self.study) for s in (leaning.from_s, 86_399))),
                )
            for item, name in self.kept(visit).items():
                (rigs if item in classes else people)[key(visit), item] = (name,)
        fixed = tuple(frozen)
        within = tuple(dict.fromkeys((*self.study.keep_same_within, *self.study.keep_same_across)))
        return DayProblem(
            replace(self.study, keep_same_within=within),
            self.plans,
            day,
            asked,
            must=frozenset(asked),
            frozen=fixed,
            frozen_tasks=self.tasks.get(day, ()) if fixed else (),
            start_windows=windows,
            allowed_rigs=rigs,
            allowed_people=people,
            guard_s=self.guard_s,
        )


def used_for(study: Study, visit: PlacedVisit, item: str) -> list[str]:
    """The rigs of that class, or the people in that role, that a visit has, in order."""
    classes = {rig.id: rig.classes for rig in study.rigs}
    found = []
    for activity in visit.activities:
        found += [rig for rig in activity.rigs if item in classes.get(rig, ())]
        watching = activity.watch.staff if activity.watch else {}
        found += [staff[item] for staff in (activity.staff, watching) if item in staff]
    return list(dict.fromkeys(found))


def _at(day: date, seconds: int, study: Study) -> datetime:
    """That second of the wall clock on that day."""
    whole = time(seconds // 3600, seconds // 60 % 60, seconds % 60)
    return at_clock(day, whole, study.zone)
