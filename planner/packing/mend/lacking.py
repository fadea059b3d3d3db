"""Steps that a visit has lost in an earlier mend: it goes on without them, and can still be mended."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

from planner.schedule.model import Activity, Change
from planner.timing.plan import PlannedActivity, VisitPlan


def lost_before(plan: VisitPlan, by_index: Mapping[int, Activity], known: Iterable[Change]) -> set[int]:
    """The planned activities that are not placed and that the plan before names as dropped, by index."""
    dropped = {(one.step, one.at_s, one.manoeuvre) for one in known if one.kind == "dropped"}
    return {
        a.index
        for a in plan.activities
        if a.index not in by_index and (a.step, a.at_s, a.manoeuvre) in dropped
    }


def with_lost(
    plan: VisitPlan, by_index: Mapping[int, Activity], lost: Collection[int]
) -> dict[int, Activity]:
    """All activities by index; one that is lost takes no time and nobody, after what came before it."""
    found: dict[int, Activity] = {}
    for planned in plan.activities:
        if planned.index in by_index:
            found[planned.index] = by_index[planned.index]
        elif planned.index in lost:
            found[planned.index] = _nothing(planned, _moment(planned, plan, found, by_index))
    return found


def _moment(
    planned: PlannedActivity,
    plan: VisitPlan,
    found: Mapping[int, Activity],
    by_index: Mapping[int, Activity],
) -> datetime:
    """The end of what came before it beside it; else the start of the bout around it, or of the visit."""
    before = [i for i in found if plan.activities[i].inside == planned.inside]
    if before:
        return found[before[-1]].end
    if planned.inside is not None and planned.inside in found:
        return found[planned.inside].start
    return min((one.start for one in by_index.values()), key=datetime.timestamp)


def _nothing(planned: PlannedActivity, when: datetime) -> Activity:
    step, at_s, manoeuvre = planned.step, planned.at_s, planned.manoeuvre
    return Activity(step, at_s, manoeuvre, (), {}, when, None, when, when, None, None, {})
