"""How many visits a day could hold, and what other numbers of rigs and people would change."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.capacity_lines import Capacity, Line, Table
from planner.packing.capacity_variants import Variant, kinds_of, like_days, variants
from planner.packing.day import pack_day
from planner.packing.problem import DayProblem
from planner.packing.progress import Progress, Report, Stop
from planner.schedule.model import Activity, PlacedVisit
from planner.study.model import Study, Visit
from planner.timing.lay_out import cannot_be_kept
from planner.timing.plan import VisitPlan

MOST_ASKED = 60  # made-up participants of one day
BASE_SHARE = 3.0  # the laboratory as it is gets so many shares of the time, each single change one
FIRST = 0.6  # of the time, for the first table where there are several
MOST_TABLES = 12
LEAST_S = 0.7  # below this a search is not begun: what is known from other lines stands
RESERVE = 0.06  # of the time, for reading and writing


def capacity(
    study: Study,
    plans: Mapping[str, VisitPlan],
    *,
    seconds: float,
    workers: int = 2,
    progress: Report | None = None,
    stop: Stop | None = None,
) -> Capacity:
    """Places a day for each protocol, on each kind of day, by made-up participants who may come all day.

    Opening hours, shifts, breaks, outages, start times and the cap a day are the study's own. The first
    table is for the commonest protocol on the day that holds most and says what one or two rigs or people
    more or one fewer would change, and one more of two kinds together; the others are as the laboratory
    is. Within `seconds`; what is not searched for in time has its bounds from arithmetic and other lines.
    """
    budget = Budget(time.monotonic() + (1 - RESERVE) * seconds, workers, progress, stop)
    wanted = Counter(v.protocol for several in study.asked.values() for v in several)
    days = like_days(study)
    if not wanted or not days:
        return Capacity(())
    limits = Bounds(study, plans)
    cases = sorted(
        ((name, alike) for name, _ in wanted.most_common() for alike in days),
        key=lambda case: (-wanted[case[0]], -limits.most(case[0], case[1][0])),
    )
    counts = [Count(study, plans, protocol, alike) for protocol, alike in cases[:MOST_TABLES]]
    left_s = budget.left_s * (FIRST if len(counts) > 1 else 1.0)
    tables = [counts[0].table(budget, left_s, with_changes=True)]
    for number, count in enumerate(counts[1:], 1):
        share_s = budget.left_s / (len(counts) - number)
        tables.append(count.table(budget, share_s, with_changes=False))
    return Capacity(tuple(tables), len(cases) - len(tables))


@dataclass
class Count:
    """The counting of one table: what is known of each variant, and the plans that show it."""

    study: Study
    plans: Mapping[str, VisitPlan]
    protocol: str
    days: tuple[date, ...]
    found: dict[str, tuple[PlacedVisit, ...]] = field(default_factory=dict)
    most: dict[str, int] = field(default_factory=dict)

    @property
    def day(self) -> date:
        """The day that is counted for."""
        return self.days[0]

    def table(self, budget: Budget, seconds: float, *, with_changes: bool) -> Table:
        """All lines, within that time."""
        kinds = kinds_of(self.study, self.plans[self.protocol], self.day)
        every = list(variants(self.study, kinds))[: None if with_changes else 1]
        self.most = {v.change: self._arithmetic(v) for v in every}
        until = min(budget.until, time.monotonic() + seconds)
        for number, variant in enumerate(every):
            still = sum(_share(v) for v in every[number:] if v is variant or not self._is_known(v, every))
            share_s = _share(variant) / still * (until - time.monotonic())
            self._search(variant, every, replace(budget, until=time.monotonic() + share_s))
        lines = tuple(self._line(v, every) for v in every if v.kind != "both" and v.difference < 2)
        more = tuple(self._line(v, every) for v in every if v.kind == "both" or v.difference == 2)
        numbers = {kind.label: kind.count for kind in kinds}
        return Table(self.protocol, self.days, lines, more, numbers, self.study.at_most_visits_a_day)

    def _is_known(self, variant: Variant, every: Sequence[Variant]) -> bool:
        """Whether what was found for others settles it."""
        return len(self._carried(variant, every)) >= self._bound(variant, every)

    def _arithmetic(self, variant: Variant) -> int:
        """What no order of visits can beat; 0 where the protocol cannot be kept or the day has no room."""
        plan = self.plans[self.protocol]
        if cannot_be_kept(plan) or not any(hours.length_s for hours in self.study.open[self.day]):
            return 0
        return Bounds(_all_asked(variant.study, self.protocol), self.plans).most(self.protocol, self.day)

    def _search(self, variant: Variant, every: Sequence[Variant], budget: Budget) -> None:
        """Looks for more than what smaller laboratories hold, unless that is all or time is up."""
        self.found[variant.change] = hint = self._carried(variant, every)
        most = self._bound(variant, every)
        if len(hint) >= most or budget.left_s < LEAST_S or budget.is_over:
            return
        study, visits = _made_up(variant.study, self.protocol, most)
        result = pack_day(
            DayProblem(study, self.plans, self.day, visits),
            seconds=budget.left_s,
            stages=("placed",),
            hint=hint,
            workers=budget.workers,
            seed=study.seed,
            progress=self._tell(budget, most),
            stop=budget.stop,
        )
        if len(result.visits) > len(hint):
            self.found[variant.change] = result.visits
        bound = next(stage.bound for stage in result.stages if stage.name == "placed")
        if bound < len(visits) or len(visits) == most:
            self.most[variant.change] = min(self.most[variant.change], bound)

    def _carried(self, variant: Variant, every: Sequence[Variant]) -> tuple[PlacedVisit, ...]:
        """The best plan of a laboratory that has no more of anything, with rigs and people that are here."""
        known = [
            self.found[v.change] for v in every if v.change in self.found and v.has_no_more_than(variant)
        ]
        return max((plan for plan in known if _is_possible(plan, variant.study)), key=len, default=())

    def _bound(self, variant: Variant, every: Sequence[Variant]) -> int:
        """What laboratories that have no less of anything cannot beat, this one cannot either."""
        return min(self.most[v.change] for v in every if variant.has_no_more_than(v))

    def _line(self, variant: Variant, every: Sequence[Variant]) -> Line:
        found = max(len(self.found[v.change]) for v in every if v.has_no_more_than(variant))
        return Line(
            variant.change,
            variant.kind,
            variant.what,
            variant.difference,
            found,
            max(found, self._bound(variant, every)),
            variant.count,
            variant.like,
            variant.without,
        )

    def _tell(self, budget: Budget, most: int) -> Callable[[Progress], None] | None:
        report = budget.report
        if report is None:
            return None
        return lambda p: report(Progress("capacity", p.placed, p.placed, most, p.left_s))


def _share(variant: Variant) -> float:
    """How much of the time a variant gets: the laboratory as it is most, two changes at once least."""
    if not variant.deltas:
        return BASE_SHARE
    return 1.0 if variant.difference < 2 and variant.kind != "both" else 0.5


def _is_possible(visits: Sequence[PlacedVisit], study: Study) -> bool:
    """Whether all rigs and people of a plan are there."""
    rigs = {rig.id for rig in study.rigs}
    people = {person.id for person in study.people}
    return all(rigs.issuperset(a.rigs) and people.issuperset(names) for a, names in _served(visits))


def _served(visits: Sequence[PlacedVisit]) -> Iterator[tuple[Activity, set[str]]]:
    for visit in visits:
        for a in visit.activities:
            watching = a.watch.staff.values() if a.watch else ()
            yield a, {*a.staff.values(), *a.clear_staff.values(), *watching}


def _all_asked(study: Study, protocol: str) -> Study:
    """The study with nothing asked for but visits of that protocol."""
    asked = {
        name: tuple(visit for visit in several if visit.protocol == protocol)
        for name, several in study.asked.items()
    }
    return replace(study, asked=asked)


def _made_up(study: Study, protocol: str, most: int) -> tuple[Study, tuple[Visit, ...]]:
    """The study with as many made-up participants as could ever fit, up to MOST_ASKED."""
    like = next(v for several in study.asked.values() for v in several if v.protocol == protocol)
    names = tuple(f"made-up-{number:02}" for number in range(1, min(most, MOST_ASKED) + 1))
    visits = tuple(replace(like, participant=name, gap=None) for name in names)
    asked = {visit.participant: (visit,) for visit in visits}
    made = replace(study, participants=names, asked=asked, available={}, groups={}, wishes=())
    return made, visits
