"""The judge: every broken rule of a plan in words, from the files and the plan alone. It knows no solver."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from planner.schedule.model import Broken, Schedule
from planner.schedule.rules import (
    asked,
    busy,
    care,
    claims,
    counting,
    early,
    first_use,
    hours,
    keeping,
    serving,
    within,
)
from planner.schedule.rules.case import Case, case_of
from planner.study.model import Study
from planner.timing.plan import VisitPlan

Rule = Callable[[Case], Iterator[Broken]]

RULES: tuple[Rule, ...] = (
    *asked.RULES,
    *within.RULES,
    *serving.RULES,
    *busy.RULES,
    *hours.RULES,
    *keeping.RULES,
    *first_use.RULES,
    *counting.RULES,
    *claims.RULES,
)
WARNINGS: tuple[Rule, ...] = (
    claims.fingerprint,
    claims.stages_known,
    first_use.idle_tasks,
    within.missed_windows,
    hours.runs_over,
    *care.RULES,
    *early.WARNINGS,
)


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the judge found; a plan without `broken` keeps every rule."""

    broken: tuple[Broken, ...]
    warnings: tuple[Broken, ...]
    visits: int
    activities: int

    def as_json(self) -> dict[str, object]:
        """The keys fixed by the formats."""
        return {
            "broken": [one.as_json() for one in self.broken],
            "warnings": [one.as_json() for one in self.warnings],
            "checked": {"visits": self.visits, "activities": self.activities},
        }


def verify(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> Verdict:
    """Every broken rule, in un-rounded seconds; `plans` are those of `schedule.plans.visit_plans`."""
    case = case_of(schedule, study, plans)
    return Verdict(
        tuple(broken for rule in RULES for broken in rule(case)),
        tuple(warning for rule in WARNINGS for warning in rule(case)),
        len(schedule.visits),
        sum(len(visit.activities) for visit in schedule.visits),
    )
