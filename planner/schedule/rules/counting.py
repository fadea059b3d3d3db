"""What simple counting allows: minutes of rigs and people that a day has, and that its visits need."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from itertools import combinations

from planner.clock import Interval, without
from planner.schedule.model import Broken
from planner.schedule.rules.case import Case
from planner.study.model import Study
from planner.timing.plan import VisitPlan

MOST_ROLES = 8  # 255 sets of roles; more are counted one by one and all together


def counting(case: Case) -> Iterator[Broken]:
    """On no day do visits need more rig-minutes of a class, or person-minutes of roles, than there are."""
    by_date: dict[date, list[VisitPlan]] = defaultdict(list)
    for visit in case.visits:
        if visit.plan and visit.placed.date in case.study.open:
            by_date[visit.placed.date].append(visit.plan)
    for on, plans in sorted(by_date.items()):
        for what, need_s, there_s in _accounts(case.study, on, plans):
            if need_s > there_s:
                minutes = f"{need_s // 60} min of {what}, and there are {there_s // 60}"
                words = f"{on}: {len(plans)} visits need {minutes}"
                yield Broken("counting", None, None, words)


def _accounts(study: Study, on: date, plans: list[VisitPlan]) -> Iterator[tuple[str, int, int]]:
    """(what, seconds needed, seconds there) for each class and each set of roles."""
    hours = study.open.get(on, ())
    for name in dict.fromkeys(name for rig in study.rigs for name in rig.classes):
        need = sum(rig_s(plan, name) for plan in plans)
        there = sum(_length(without(hours, rig.out)) for rig in study.rigs if name in rig.classes)
        yield name, need, there
    for group in role_sets(study):
        need = sum(person_s(plan, group) for plan in plans)
        there = sum(_length(p.works.get(on, ())) for p in study.people if group & set(p.roles))
        yield " or ".join(sorted(group)), need, there


def role_sets(study: Study) -> Iterator[frozenset[str]]:
    """The sets of roles that are counted."""
    roles = sorted({role for person in study.people for role in person.roles})
    sizes = range(1, len(roles) + 1) if len(roles) <= MOST_ROLES else (1, len(roles))
    for size in sizes:
        yield from map(frozenset, combinations(roles, size))


def rig_s(plan: VisitPlan, name: str) -> int:
    """The least seconds for which one visit holds a rig of that class, clearing included."""
    total = 0
    for activity in plan.activities:
        if name in activity.rigs and not _is_shared(plan, activity.inside, name):
            clear = activity.clear.takes_s if activity.clear and name not in activity.keeps else 0
            total += activity.length_s + clear
    return total


def person_s(plan: VisitPlan, group: frozenset[str]) -> int:
    """The least person-seconds in these roles that one visit needs; blocks inside a bout may come free."""
    total = 0
    for activity in plan.activities:
        if activity.inside is None:
            total += activity.length_s * len(group & set(activity.staff))
            if activity.clear:
                total += activity.clear.takes_s * len(group & set(activity.clear.staff))
    return total


def _is_shared(plan: VisitPlan, inside: int | None, name: str) -> bool:
    """Whether the bout around a block has a rig of the class that may serve the block as well."""
    return inside is not None and name in plan.activities[inside].rigs


def _length(intervals: Iterable[Interval]) -> int:
    return sum(interval.length_s for interval in intervals)


RULES = (counting,)
