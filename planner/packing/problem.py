"""What one day is asked to hold, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from planner.clock import Interval
from planner.schedule.model import Outcome, PlacedVisit, RigTask, Stage
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

VisitKey = tuple[str, str]  # participant, file_id


def key(visit: Visit | PlacedVisit) -> VisitKey:
    """What names a visit in a study: its participant and its file_id."""
    return visit.participant, visit.file_id


@dataclass(frozen=True)
class DayProblem:
    """The visits that may, and those that must, come on one day, and what is already fixed.

    `frozen` visits and `frozen_tasks` stay as they are and only occupy. `start_windows` restrict a
    visit's start (both ends included). `allowed_rigs[visit, class]` and `allowed_people[visit, role]`
    name the ids that may serve it. Rigs and people of a windowed block are held `guard_s` before it.
    `unchecked` are rigs whose first task of the day is still to come, also where a frozen visit uses them.
    """

    study: Study
    plans: Mapping[str, VisitPlan]
    day: date
    visits: tuple[Visit, ...]
    must: frozenset[Visit] = frozenset()
    frozen: tuple[PlacedVisit, ...] = ()
    frozen_tasks: tuple[RigTask, ...] = ()
    start_windows: Mapping[VisitKey, tuple[Interval, ...]] = field(default_factory=dict)
    allowed_rigs: Mapping[tuple[VisitKey, str], tuple[str, ...]] = field(default_factory=dict)
    allowed_people: Mapping[tuple[VisitKey, str], tuple[str, ...]] = field(default_factory=dict)
    guard_s: int = 0
    unchecked: frozenset[str] = frozenset()


@dataclass(frozen=True)
class DayResult:
    """The best day that was found. `stages` hold value, bound and status of each objective that was tried.

    `status`: OPTIMAL where every stage is proven; IMPOSSIBLE where it is proven that the visits of
    `must` do not fit together (the best found without that demand stands in `visits`); else FEASIBLE.
    `must_left_out` are visits of `must` without a place. `first_s` is when the first plan was there.
    """

    visits: tuple[PlacedVisit, ...]
    rig_tasks: tuple[RigTask, ...]
    stages: tuple[Stage, ...]
    not_placed: tuple[Visit, ...]
    must_left_out: tuple[Visit, ...]
    status: Outcome
    proven: bool
    first_s: float
    solver: str
