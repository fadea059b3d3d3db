"""What the stages of a plan are worth, recomputed from the plan: the same for packing and for the judge."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import date

from planner.clock import seconds_between
from planner.schedule.beside_asked import asked_visit, distances_s
from planner.schedule.change_values import CHANGE_STAGES, change_values
from planner.schedule.model import PlacedVisit, Schedule
from planner.schedule.rules.case import case_of
from planner.schedule.spare import spares
from planner.study.model import Study
from planner.timing.plan import VisitPlan

MOST_SPARE_S = 900  # more than a quarter of an hour before a window is worth nothing more
STAGES = ("placed", "last_day", "waiting_s", "last_end_s", "spare_s")
KNOWN = (*STAGES, *CHANGE_STAGES)
BEST_IS_MOST = frozenset({"placed", "spare_s"})  # of these stages more is better, of all others less


def stage_values(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan], names: Collection[str] = STAGES
) -> dict[str, int]:
    """The values of these stages, by name; `last_day` only where the study has several open days.

    `placed`: visits. `last_day`: days from the study's first day to the last visit. `waiting_s`: how
    much longer the visits take than alone, and twice the distance of each time point from its `at`.
    `last_end_s`: summed over the days, from opening to the last end of a visit. `spare_s`: see there.
    Those of a mended plan are in `change_values`.
    """
    makers: dict[str, Callable[[], int]] = {
        "placed": lambda: schedule.placed,
        "last_day": lambda: last_day(schedule, study),
        "waiting_s": lambda: waiting_s(schedule, study, plans),
        "last_end_s": lambda: last_end_s(schedule, study),
        "spare_s": lambda: spare_s(schedule, study, plans),
    }
    if not set(CHANGE_STAGES).isdisjoint(names):
        made = change_values(schedule, study)
        return {name: makers[name]() if name in makers else made[name] for name in names if name in KNOWN}
    if len(study.open) < 2:
        del makers["last_day"]
    return {name: make() for name, make in makers.items() if name in names}


def last_day(schedule: Schedule, study: Study) -> int:
    """Days from the study's first day to that of the last visit; 0 where nothing is placed."""
    return max(((visit.date - study.first_day).days for visit in schedule.visits), default=0)


def waiting_s(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> int:
    """Seconds over all placed visits; see `visit_waiting_s`. Visits that are not asked for count nothing."""
    total = 0
    for placed in schedule.visits:
        if (asked := asked_visit(placed, study)) and asked.protocol in plans:
            total += visit_waiting_s(placed, plans[asked.protocol])
    return total


def visit_waiting_s(placed: PlacedVisit, plan: VisitPlan) -> int:
    """Its length less that alone, plus twice the distance of each of its time points from `at`."""
    length = seconds_between(placed.start, placed.end)
    return length - plan.alone_s + 2 * sum(distances_s(placed, plan))


def last_end_s(schedule: Schedule, study: Study) -> int:
    """Seconds from opening to the last end of a visit, summed over the days with visits."""
    ends: dict[date, PlacedVisit] = {}
    for visit in schedule.visits:
        if visit.date not in ends or visit.end.timestamp() > ends[visit.date].end.timestamp():
            ends[visit.date] = visit
    return sum(
        seconds_between(study.open[visit.date][0].start, visit.end)
        for visit in ends.values()
        if visit.date in study.open
    )


def spare_s(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> int:
    """The least time for which rigs and people of a block with a window were free of others before it.

    Counted from the end of what a rig or person did for another participant (clearing and staying
    included) or as a check; at most MOST_SPARE_S, which also stands where nothing came before.
    """
    return min((MOST_SPARE_S, *spares(case_of(schedule, study, plans))))
