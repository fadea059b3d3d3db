"""What one visit takes of rigs and people at least, and what a day can give at most: plain arithmetic."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

from planner.packing.bounds.watching import distances_of, pieces_of, watching_seconds
from planner.packing.demands import rig_runs
from planner.study.model import Study
from planner.timing.plan import PlannedActivity, VisitPlan

MOST_ROLES = 5  # beyond that: single roles, pairs, and all together


@dataclass(frozen=True)
class Limit:
    """One thing that a day runs out of: what a visit takes of it and what the day has, in seconds."""

    what: str
    unit: str
    takes_s: int
    has_s: int

    @property
    def visits(self) -> int:
        """At most so many visits."""
        return self.has_s // self.takes_s

    def words(self) -> str:
        """The arithmetic in one line."""
        takes, has = _minutes(self.takes_s), self.has_s // 60
        need = f"{takes} {self.unit}-minutes a visit, {has} a day"
        return f"{self.what}: {need}: at most {self.visits} visits a day"


def _minutes(seconds: int) -> str:
    """Minutes with one decimal where they are not whole."""
    return f"{seconds / 60:.1f}".removesuffix(".0")


def least_length_s(plan: VisitPlan) -> int:
    """The shortest that a visit can be at its planned lengths, alone in the laboratory."""
    count = len(plan.activities)
    found = distances_of(plan)
    if found is None or not count:
        return plan.shortest_s
    distances = ((found.at_least(i, j), j) for i in range(count) for j in range(count))
    return max(least + plan.activities[j].length_s for least, j in distances if least is not None)


def rig_seconds(plan: VisitPlan) -> dict[str, int]:
    """By class of rig, the seconds that a visit keeps such a rig busy, at least."""
    total: dict[str, int] = {}
    for first, last, rig_class, clear_s in rig_runs(plan):
        if plan.activities[first].inside is None:
            busy_s = sum(a.length_s for a in plan.activities[first : last + 1] if a.inside is None)
            total[rig_class] = total.get(rig_class, 0) + busy_s + clear_s
    return total


def person_seconds(plan: VisitPlan, roles: frozenset[str]) -> int:
    """The seconds that a visit keeps people of these roles busy, at least.

    Blocks inside a bout may be served by the bout's own people, and who watches may serve the same visit
    in whatever it wants meanwhile: all of that is counted once.
    """
    busy_s = sum(_busy_s(activity, roles) for activity in plan.activities if activity.inside is None)
    return busy_s + watching_seconds(plan, roles)


def _busy_s(activity: PlannedActivity, roles: frozenset[str]) -> int:
    return sum(length_s * len(roles.intersection(who)) for _, length_s, who in pieces_of(activity))


def role_sets(study: Study) -> tuple[frozenset[str], ...]:
    """The sets of roles to count people by; of sets with the same people only the largest."""
    roles = sorted({role for person in study.people for role in person.roles})
    sizes: Iterable[int] = range(1, len(roles) + 1) if len(roles) <= MOST_ROLES else (1, 2, len(roles))
    by_people: dict[frozenset[str], frozenset[str]] = {}
    for size in sizes:
        for some in combinations(roles, size):
            people = frozenset(p.id for p in study.people if set(some).intersection(p.roles))
            by_people[people] = by_people.get(people, frozenset()) | frozenset(some)
    return tuple(by_people.values())
