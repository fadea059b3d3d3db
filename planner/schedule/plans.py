"""The plan of each visit: one `VisitPlan` for each protocol of a study."""

from __future__ import annotations

from planner.faults import FaultyInput
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.lay_out import lay_out
from planner.timing.learned import Learned
from planner.timing.network import contradictions
from planner.timing.plan import VisitPlan


def plans_of(study: Study, schedule: Schedule) -> dict[str, VisitPlan]:
    """The plans that a schedule was made with: with what the record had taught then, where it says so."""
    return visit_plans(study, schedule.learned)


def visit_plans(study: Study, learned: Learned | None = None) -> dict[str, VisitPlan]:
    """The plans by the name of the protocol's file, as in `Visit.protocol`.

    Raises FaultyInput for every protocol that contradicts itself: it has no plan.
    """
    found = [fault for protocol in study.protocols.values() for fault in contradictions(protocol)]
    if found:
        raise FaultyInput(found, study.warnings)
    return {name: lay_out(protocol, study.plan_on, learned) for name, protocol in study.protocols.items()}
