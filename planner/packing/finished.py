"""A plan finished: what has no place named, why asked, and all of it judged."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import replace

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.head import Head, judged, status_of
from planner.packing.problem import VisitKey, key
from planner.packing.reasons import find_reasons
from planner.packing.running import Running
from planner.packing.why.case import Case
from planner.packing.why.of_visits import NOT_FOUND
from planner.schedule.model import NotPlaced, Schedule


def finished(
    head: Head, running: Running, bounds: dict[str, int], budget: Budget, limits: Bounds
) -> Schedule:
    """The plan with what could not be placed named, and why; judged.

    What the judge refuses has no place either: why is asked then as of any other visit.
    """
    made = _explained(head, running, bounds, budget, limits, {})
    passed = judged(made, head.study, head.plans)
    if passed.placed == made.placed:
        return passed
    refused = {(one.participant, one.visit): one.message for one in passed.not_placed}
    kept = replace(running, visits={key(visit): visit for visit in passed.visits})
    made = _explained(head, kept, bounds, budget, limits, refused)
    return judged(made, head.study, head.plans)


def _explained(
    head: Head,
    running: Running,
    bounds: Mapping[str, int],
    budget: Budget,
    limits: Bounds,
    refused: Mapping[VisitKey, str],
) -> Schedule:
    """The plan, and what is found out of visits without a place; `refused`: what the judge says of some."""
    missing, most = running.missing(), {**bounds, "placed": min(bounds["placed"], len(head.asked))}
    if not missing:
        made = head.schedule(running, {**bounds, "placed": len(head.asked)})
        return replace(made, status=status_of(made.stages, made))
    wall = Budget(time.monotonic() + budget.left_s, budget.workers, budget.report, budget.stop)
    is_known = len(head.study.open) == 1 and most["placed"] < len(head.asked)
    finding = find_reasons(Case(head.study, head.plans), missing, wall, limits, is_known=is_known)
    if finding.is_proven:
        most["placed"] = min(most["placed"], len(head.asked) - max(1, finding.impossible))
    if "last_day" in most:
        most["last_day"] = 0  # what was proven holds for plans that place everybody
    said = {key(visit): finding.words_for(visit, refused.get(key(visit), NOT_FOUND)) for visit in missing}
    left = [NotPlaced(v.participant, v.file_id, said[key(v)]) for v in missing]
    made = head.schedule(running, most, finding.reasons, left=left)
    return replace(made, status=status_of(made.stages, made))
