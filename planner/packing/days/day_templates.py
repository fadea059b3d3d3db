"""The templates of a study's days: days that are alike share one, and the commonest can be made fuller."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from planner.packing.bounds.chains import wanted_by_day
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.day import pack_day
from planner.packing.days.lanes import MOST_IN_A_LANE, Lane, lane_study, signature
from planner.packing.days.places import Place
from planner.packing.days.templates import Hunt, Slot, Template, TemplateMaker, Type, names_between, type_of
from planner.packing.days.wanted_hours import wanted_hours
from planner.packing.hours import number_of
from planner.packing.problem import DayProblem, key
from planner.schedule.model import PlacedVisit, RigTask
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

MOST_FIRST_S = 8.0  # for one first template; what more time gains is looked for only where it is needed

HOPED_FOR = 2  # visits more than a day has: one more may not let the study end earlier where two do
EMPTY = 0.1  # of the visits: so many places more are a choice of hours
CHOICE = 2  # slots for each visit that a day may take, so that there is a choice of hours

Fixed = Mapping[date, tuple[tuple[PlacedVisit, ...], tuple[RigTask, ...]]]
Name = Hashable  # equal for lanes and days that share a template


class DayTemplates:
    """The templates of one study, by kind of day."""

    def __init__(
        self,
        study: Study,
        plans: Mapping[str, VisitPlan],
        bounds: Bounds,
        lanes: Sequence[Lane],
        budget: Budget,
        guard_s: int = 0,
    ) -> None:
        self.study, self.plans, self.bounds, self.budget = study, plans, bounds, budget
        self.lanes, self.guard_s = lanes, guard_s
        self.maker = TemplateMaker(study, plans, budget, guard_s)
        self.visits_of = {key(v): v for visits in study.asked.values() for v in visits}
        self._at_once = self._most_at_once()
        self._fixed = self._fix()
        self._wanted = self._want()
        self._order = [(day, lane, self._name(day, lane)) for day in sorted(study.open) for lane in lanes]
        self._uses = Counter(name for _, _, name in self._order)
        self._jobs: dict[Name, tuple[Lane, date]] = {}
        for day, lane, name in self._order:
            self._jobs.setdefault(name, (lane, day))
        self._known: dict[Name, Template] = {}
        self._tries = 0
        self._least: dict[int, int] = {}

    def _name(self, day: date, lane: Lane) -> Name:
        """A day with fixed visits is like no other, and there no lane is like another: they take of any."""
        return signature(self.study, lane, day), self._wanted[day], (day, lane) if day in self._fixed else ()

    def _by_use(self) -> list[Name]:
        return sorted(self._jobs, key=lambda name: -self._uses[name])

    def make_first(self, seconds: float, hunt_s: float = 0.0) -> None:
        """A template of each kind, the commonest kind first and longest.

        `hunt_s` more are for placing so many there that more would not let the study end earlier.
        """
        for number, name in enumerate(self._by_use()):
            share = seconds * self._uses[name] / len(self._order) if number == 0 else 0.0
            part = min(max(share, seconds / (len(self._jobs) - number)), MOST_FIRST_S)
            before = self.budget.clock.now()
            hunt = self._hunt(hunt_s) if number == 0 else None
            self._known[name] = self._template(name, part, hunt=hunt)
            seconds = max(0.0, seconds - min(part, self.budget.clock.now() - before))

    def _hunt(self, seconds: float) -> Hunt | None:
        """None where the laboratory's own limit of visits a day is what counts."""
        if not seconds or self.study.at_most_visits_a_day is not None:
            return None
        return Hunt(seconds, self._is_enough)

    def _is_enough(self, placed: int) -> bool:
        """Whether a few visits more would not let the study end earlier, and there is a choice of hours.

        There is one where a visit less would do as well, or where many places stay empty.
        """
        now, most = self._least_with(placed), placed * len(self.lanes)
        if now != self._least_with(placed + HOPED_FOR) or not self.bounds.fits_by(now, most):
            return False
        places = sum(min(room, most) for room in self.bounds.rooms(now).values())
        return now == self._least_with(placed - 1) or places >= (1 + EMPTY) * len(self.visits_of)

    def _least_with(self, placed: int) -> int:
        """The earliest last day that is thinkable with at most so many visits a day in each lane."""
        if placed not in self._least:
            self._least[placed] = self.bounds.least_last_day(placed * len(self.lanes))
        return self._least[placed]

    def could_end_before(self, last_day: int) -> bool:
        """Whether a few visits more in each day of the commonest kind might let the study end earlier."""
        return self._least_with(len(self._known[self._by_use()[0]].slots) + HOPED_FOR) < last_day

    def make_fuller(self, seconds: float) -> bool:
        """Whether the commonest kind of day was found to take one visit more."""
        name = self._by_use()[0]
        before, self._tries = self._known[name], self._tries + 1
        found = self._template(name, seconds, before)
        if len(found.firsts) <= len(before.firsts) or len(found.slots) <= len(before.slots):
            return False
        self._known[name] = found
        return True

    @property
    def may_grow(self) -> bool:
        """Whether the commonest kind of day might take more visits of its first type."""
        cap = self.study.at_most_visits_a_day
        for name in self._by_use()[:1]:
            lane, day = self._jobs[name]
            if cap is not None and cap <= len(self.lanes) * len(self._known[name].slots):
                return False
            for kind, most in self._counts(lane, day, self._wanted[day])[:1]:
                known = self._known[name]
                return len(known.firsts) < min(most, known.most.get(kind, most))
        return False

    def proven(self) -> Iterator[tuple[date, int]]:
        """Days of a whole laboratory with visits of one type only, and the proven most that they take."""
        kinds = {type_of(v) for v in self.visits_of.values()}
        if len(self.lanes) == 1 and len(kinds) == 1 and not self.guard_s:
            for day, _, name in self._order:
                for most in self._known[name].most.values():
                    yield day, most

    def _template(
        self, name: Name, seconds: float, known: Template | None = None, hunt: Hunt | None = None
    ) -> Template:
        lane, day = self._jobs[name]
        visits, tasks = self._fixed.get(day, ((), ()))
        counts = self._counts(lane, day, self._wanted[day])
        seed = self.study.seed + 101 * self._tries
        days = {on for on, _, other in self._order if other == name}
        hours = wanted_hours(self.study, self.bounds.hours, days)
        return self.maker.make(
            lane, day, counts, visits, tasks, seconds, known, seed=seed, hunt=hunt, hours=hours
        )

    def by_day(self) -> dict[int, list[Place]]:
        """The slots of every open day, by calendar day."""
        by_day: dict[int, list[Place]] = {}
        everyone = Lane(tuple(r.id for r in self.study.rigs), tuple(p.id for p in self.study.people))
        for day, lane, name in self._order:
            template = self._known[name]
            is_own = day in self._fixed  # its rigs' first tasks may be done by people of any lane
            names = names_between(everyone, everyone) if is_own else names_between(template.lane, lane)
            places = by_day.setdefault(number_of(day, self.study), [])
            places += [Place(template, slot, names) for slot in template.slots]
        names = names_between(everyone, everyone)
        for day, (visits, tasks) in self._fixed.items():
            template = Template(day, everyone, (), tasks)
            for placed in visits:
                visit = self.visits_of[key(placed)]
                slot = Slot({type_of(visit): placed})
                by_day[number_of(day, self.study)].append(Place(template, slot, names, visit))
        return by_day

    def _want(self) -> dict[date, tuple[Type, ...]]:
        """By day, the types of visits that may come then; the type that most visits want first."""
        last = number_of(self.study.last_day, self.study)
        masks: dict[Type, Counter[int]] = {}
        for visits in self.study.asked.values():
            for visit, mask in zip(visits, self._reach(visits, last), strict=False):
                masks.setdefault(type_of(visit), Counter())[mask] += 1
        wanted = {kind: wanted_by_day(counts, last) for kind, counts in masks.items()}
        found = {}
        for day in self.study.open:
            number = number_of(day, self.study)
            counts = Counter({kind: int(by_day[number]) for kind, by_day in wanted.items() if by_day[number]})
            found[day] = tuple(kind for kind, _ in self._by_count(counts))
        return found

    def _reach(self, visits: Sequence[Visit], last: int) -> tuple[int, ...]:
        """The days that the visits of one participant may take: of as many from the first on as can come."""
        for count in range(len(visits), 0, -1):
            if (reached := self.bounds.reach(visits[:count], last)) is not None:
                return reached
        return ()

    def _most_at_once(self) -> Mapping[Type, int]:
        """By type, how many visits one day could hold if everybody came on it, as often as they may."""
        found: Counter[Type] = Counter()
        for visits in self.study.asked.values():
            most: Counter[Type] = Counter()
            run: Counter[Type] = Counter()
            for visit, (days, _) in zip(visits, self.bounds.spans(visits), strict=True):
                run = Counter() if days else run
                run[type_of(visit)] += 1
                most |= run
            found += most
        return found

    def _by_count(self, counts: Counter[Type]) -> list[tuple[Type, int]]:
        return sorted(
            counts.items(), key=lambda pair: (-pair[1], -self.plans[pair[0][0]].alone_s, str(pair[0]))
        )

    def _counts(self, lane: Lane, day: date, kinds: Sequence[Type]) -> list[tuple[Type, int]]:
        """How many made-up visits of each type to ask for: no more than could ever fit, or are asked for."""
        cap = self.study.at_most_visits_a_day
        capped = MOST_IN_A_LANE if cap is None else CHOICE * cap
        own = replace(lane_study(self.study, lane), asked=self.study.asked)
        bounds = Bounds(own, self.plans)
        found = []
        for kind in kinds:
            most = min(bounds.most(kind[0], day), self._at_once[kind], MOST_IN_A_LANE, capped)
            found.append((kind, most))
        return [(kind, count) for kind, count in found if count]

    def _fix(self) -> Fixed:
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
                self.budget.spend_on_day(seconds, len(visits))
                result = pack_day(
                    problem,
                    seconds=seconds,
                    stages=("placed",),
                    workers=self.budget.workers,
                    seed=self.study.seed,
                )
                found[day] = (result.visits, result.rig_tasks)
        return found
