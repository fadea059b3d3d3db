"""A visit as it may go on: also the time points that only a bout longer than planned will reach.

A plan holds those that fit into `about`, since devices and people are taken for no longer. Who works the
visit must be offered the others when the bout does last, or they would be missing and nobody told of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from planner.protocol.model import KeyPath, Protocol, Step
from planner.timing.bounds import longest_s, shortest_s
from planner.timing.expand import Outline, Spot, expand
from planner.timing.lay_out import planned_efforts
from planner.timing.network import never_reached
from planner.timing.plan import PlannedActivity, VisitPlan

_Block = tuple[KeyPath, str | None]


def followed(plan: VisitPlan) -> VisitPlan:
    """That plan with all time points that its longest bouts reach; the plan itself where it has them all."""
    if not may_reach_more(plan.protocol):
        return plan
    outline = expand(plan.protocol, never_reached(plan.protocol))
    own = {(one.path, one.manoeuvre): one for one in plan.activities}
    added = [spot for spot in outline.spots if _block(spot) not in own]
    if not added:
        return plan
    efforts = _efforts(plan, added)
    starts, activities = [], []
    for spot in outline.spots:
        known = own.get(_block(spot))
        found = known or _beyond(spot, efforts)
        activities.append(replace(found, index=spot.index, inside=spot.inside))
        starts.append(plan.starts_s[known.index] if known else _start_s(plan, outline, spot))
    return replace(plan, activities=tuple(activities), links=outline.links, starts_s=tuple(starts))


def may_reach_more(protocol: Protocol) -> bool:
    """Whether a bout of unknown length has time points that it need not reach."""
    return any(
        during.if_reached
        for step in protocol.visit
        if step.takes is not None and not step.takes.is_known
        for during in step.during
    )


def need_not_be_reached(step: Step, at_s: int | None, manoeuvre: str | None) -> bool:
    """Whether that manoeuvre at that time of a bout is measured only if the bout lasts that long."""
    if step.takes is None or step.takes.is_known:
        return False
    return any(
        during.if_reached and manoeuvre in during.measure
        for during in step.during
        if any(point.at_s == at_s for point in during.time_points)
    )


def _block(spot: Spot) -> _Block:
    return spot.path, spot.manoeuvre.id if spot.manoeuvre else None


def _efforts(plan: VisitPlan, added: list[Spot]) -> Mapping[str, int]:
    """As many efforts as the plan has of each manoeuvre; counted for those that it has nowhere."""
    known = {one.manoeuvre: one.planned_efforts or 1 for one in plan.activities if one.manoeuvre}
    if all(spot.manoeuvre and spot.manoeuvre.id in known for spot in added):
        return known
    return {**planned_efforts(plan.protocol, plan.plan_on), **known}


def _beyond(spot: Spot, efforts: Mapping[str, int]) -> PlannedActivity:
    """A block of a time point that the plan does not have."""
    assert spot.manoeuvre is not None
    manoeuvre, count = spot.manoeuvre, efforts[spot.manoeuvre.id]
    return PlannedActivity(
        index=spot.index,
        step=spot.step.id,
        kind=spot.kind,
        at_s=spot.at_s,
        manoeuvre=manoeuvre.id,
        rigs=spot.rigs,
        staff=manoeuvre.staff,
        prepare_s=manoeuvre.prepare_s,
        length_s=manoeuvre.length_s(count),
        shortest_s=shortest_s(spot),
        longest_s=longest_s(spot),
        planned_efforts=count,
        clear=manoeuvre.clear,
        keeps=(),
        watch=None,
        inside=spot.inside,
        path=spot.path,
    )


def _start_s(plan: VisitPlan, outline: Outline, spot: Spot) -> int:
    """Where it lies if the bout begins as planned: a first block at its time, others right after it."""
    bout = next(one for one in plan.activities if spot.inside is not None and _is_bout(one, outline, spot))
    before = [one for one in outline.spots if one.path == spot.path and one.index < spot.index]
    first = before[0] if before else spot
    assert first.manoeuvre is not None
    gone_s = sum(one.manoeuvre.length_s(one.manoeuvre.at_least) for one in before if one.manoeuvre)
    return plan.starts_s[bout.index] + (spot.at_s or 0) - first.manoeuvre.prepare_s + gone_s


def _is_bout(one: PlannedActivity, outline: Outline, spot: Spot) -> bool:
    return spot.inside is not None and one.path == outline.spots[spot.inside].path and one.inside is None
