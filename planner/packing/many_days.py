"""A study of several days: templates of its days, then visits to slots."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from planner.packing.assign import Assigned, assign
from planner.packing.budget import Budget
from planner.packing.day import pack_day
from planner.packing.hours import day_of, number_of
from planner.packing.lanes import MOST_IN_A_LANE, Lane, lane_study, lanes, signature
from planner.packing.places import Place, Places
from planner.packing.problem import DayProblem, key
from planner.packing.progress import Progress
from planner.packing.study_bounds import Bounds
from planner.packing.templates import Slot, Template, TemplateMaker, Type, names_between, type_of
from planner.schedule.model import PlacedVisit, RigTask
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

FIRST_TEMPLATE = 0.25  # share of the time for the fullest day of the first kind
TEMPLATES = 0.5  # and for all of them together
MOST_TEMPLATE_S = 12.0  # the first one gains little after that, and large studies need the time for slots
ASSIGNING = 0.5  # of the time left then


@dataclass
class DaysPacked:
    """All placed visits and rig tasks, and what is proven of them."""

    visits: tuple[PlacedVisit, ...]
    tasks: tuple[RigTask, ...]
    bounds: Bounds
    least_last_day: int
    proven_most: Mapping[date, int] = field(default_factory=dict)


class DaysPacker:
    """Packs one study of several days."""

    def __init__(
        self, study: Study, plans: Mapping[str, VisitPlan], budget: Budget, *, guard_s: int = 0
    ) -> None:
        self.study, self.plans, self.budget, self.guard_s = study, plans, budget, guard_s
        self.bounds = Bounds(study, plans)
        self.maker = TemplateMaker(study, plans, budget.workers, guard_s, budget.stop)
        self.visits_of = {key(v): v for visits in study.asked.values() for v in visits}
        most = max((self.bounds.room(day) for day in study.open), default=0)
        self.lanes = lanes(study, plans, most)

    def pack(self) -> DaysPacked:
        """The whole way; whatever the time, every visit that is returned keeps the rules."""
        least = self.bounds.least_last_day()
        places = Places(self.study, self._places())
        self._lower_rooms(places)
        least = max(least, self.bounds.least_last_day())
        assigned = self._assign(places, least)
        visits = places.visits(assigned.taken)
        return DaysPacked(visits, places.tasks(visits), self.bounds, least)

    def _assign(self, places: Places, least: int) -> Assigned:
        asked = len(self.visits_of)

        def told(found: Assigned) -> None:
            if self.budget.report:
                left = self.budget.left_s
                self.budget.report(Progress("last_day", asked - found.missing, found.last_day, least, left))

        until = time.monotonic() + ASSIGNING * self.budget.left_s
        return assign(
            places.slots(),
            places.chains(),
            least_last_day=least,
            until=until,
            seed=self.study.seed,
            stop=self.budget.stop,
            told=told,
        )

    def _places(self) -> dict[int, list[Place]]:
        """The slots of every open day, from templates that alike days and lanes share."""
        wanted = self._wanted()
        fixed = self._fixed()
        known: dict[Hashable, Template] = {}
        jobs: dict[Hashable, tuple[Lane, date]] = {}
        order: list[tuple[date, Lane, Hashable]] = []
        for day in sorted(self.study.open):
            for lane in self.lanes:
                own = tuple(map(key, fixed[day][0])) if day in fixed else ()
                name: Hashable = (signature(self.study, lane, day), wanted[day], (day, own) if own else ())
                jobs.setdefault(name, (lane, day))
                order.append((day, lane, name))
        uses = Counter(name for _, _, name in order)
        start, whole = time.monotonic(), self.budget.left_s
        for number, name in enumerate(sorted(jobs, key=lambda n: -uses[n])):
            lane, day = jobs[name]
            spent = time.monotonic() - start
            usual = min(max(FIRST_TEMPLATE, TEMPLATES * uses[name] / len(order)) * whole, MOST_TEMPLATE_S)
            share = (TEMPLATES * whole - spent) / (len(jobs) - number) if number else usual
            visits, tasks = fixed.get(day, ((), ()))
            known[name] = self.maker.make(
                lane, day, self._counts(lane, day, wanted[day]), visits, tasks, share
            )
        return self._by_day(order, known, fixed)

    def _by_day(
        self,
        order: Sequence[tuple[date, Lane, Hashable]],
        known: Mapping[Hashable, Template],
        fixed: Mapping[date, tuple[tuple[PlacedVisit, ...], tuple[RigTask, ...]]],
    ) -> dict[int, list[Place]]:
        by_day: dict[int, list[Place]] = {}
        for day, lane, name in order:
            template = known[name]
            names = names_between(template.lane, lane)
            places = by_day.setdefault(number_of(day, self.study), [])
            places += [Place(template, slot, names) for slot in template.slots]
        everyone = Lane(tuple(r.id for r in self.study.rigs), tuple(p.id for p in self.study.people))
        names = names_between(everyone, everyone)
        for day, (visits, tasks) in fixed.items():
            template = Template(day, everyone, (), tasks)
            for placed in visits:
                visit = self.visits_of[key(placed)]
                slot = Slot({type_of(visit): placed})
                by_day[number_of(day, self.study)].append(Place(template, slot, names, visit))
        return by_day

    def _wanted(self) -> dict[date, tuple[Type, ...]]:
        """By day, the types of visits that may come then; the type that most visits want first."""
        last = number_of(self.study.last_day, self.study)
        counts: dict[int, Counter[Type]] = {}
        for visits in self.study.asked.values():
            for visit, mask in zip(visits, self.bounds.reach(visits, last) or (), strict=False):
                while mask:
                    day = (mask & -mask).bit_length() - 1
                    counts.setdefault(day, Counter())[type_of(visit)] += 1
                    mask &= mask - 1
        return {
            day: tuple(kind for kind, _ in self._by_count(counts.get(number_of(day, self.study), Counter())))
            for day in self.study.open
        }

    def _by_count(self, counts: Counter[Type]) -> list[tuple[Type, int]]:
        return sorted(
            counts.items(), key=lambda pair: (-pair[1], -self.plans[pair[0][0]].alone_s, str(pair[0]))
        )

    def _counts(self, lane: Lane, day: date, kinds: Sequence[Type]) -> list[tuple[Type, int]]:
        """How many made-up visits of each type to ask for: no more than could ever fit, or are asked for."""
        asked = Counter(type_of(v) for v in self.visits_of.values())
        own = replace(lane_study(self.study, lane), asked=self.study.asked, at_most_visits_a_day=None)
        bounds = Bounds(own, self.plans)
        found = []
        for kind in kinds:
            who = len({v.participant for v in self.visits_of.values() if type_of(v) == kind})
            found.append((kind, min(bounds.most(kind[0], day), who, asked[kind], MOST_IN_A_LANE)))
        return [(kind, count) for kind, count in found if count]

    def _fixed(self) -> dict[date, tuple[tuple[PlacedVisit, ...], tuple[RigTask, ...]]]:
        """Visits whose start is given, placed first; by day."""
        by_day: dict[date, list[Visit]] = {}
        for visit in self.visits_of.values():
            for wish in self.bounds.hours.wishes(visit):
                if wish.start is not None:
                    by_day.setdefault(wish.start.date(), []).append(visit)
        found = {}
        for day, visits in by_day.items():
            if day in self.study.open:
                problem = DayProblem(self.study, self.plans, day, tuple(visits), guard_s=self.guard_s)
                seconds = max(0.5, 0.1 * self.budget.left_s / len(by_day))
                result = pack_day(
                    problem,
                    seconds=seconds,
                    stages=("placed",),
                    workers=self.budget.workers,
                    seed=self.study.seed,
                )
                found[day] = (result.visits, result.rig_tasks)
        return found

    def _lower_rooms(self, places: Places) -> None:
        """Where a whole laboratory's day was proven to hold no more visits of its only type, say so."""
        kinds = {type_of(v) for v in self.visits_of.values()}
        if len(self.lanes) > 1 or len(kinds) > 1:
            return
        for number, columns in places.by_day.items():
            for place in columns[:1]:
                for most in place.template.most.values():
                    self.bounds.lower_room(day_of(number, self.study), most)
