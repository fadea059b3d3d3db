"""Runs of blocks on one rig of which a part is done: where the rig fails, another one may take over."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from planner.clock import later, seconds_between
from planner.packing.mend.standing import Standing
from planner.packing.mend.troubles import Span
from planner.schedule.model import Activity
from planner.timing.plan import PlannedActivity, VisitPlan


def split_before(plan: VisitPlan, by_index: Mapping[int, Activity]) -> Iterator[int]:
    """Activities whose rig was to stay, and did not, in the plan as it is."""
    for planned in plan.activities:
        after = _next(plan, planned)
        if after and _kept(planned, by_index[planned.index]) != _kept(planned, by_index[after.index], after):
            yield planned.index


def cut_short(standing: Standing, outs: Sequence[Span], now: datetime) -> set[int]:
    """Activities after which another rig may take over: theirs fails before the run of blocks is over."""
    return {
        i
        for run, rigs in _under_way(standing)
        if _fail(rigs, outs, now, _end(standing, run))
        for i in run[:-1]
    }


def cut_at_need(standing: Standing, outs: Sequence[Span], now: datetime) -> set[int]:
    """The same for a run that may take as long as the day: its rig fails at some time from now on."""
    return {i for run, rigs in _under_way(standing) if _fail(rigs, outs, now, None) for i in run[:-1]}


def _fail(rigs: set[str], outs: Sequence[Span], now: datetime, until: datetime | None) -> bool:
    spans = [(max(start, now, key=datetime.timestamp), end) for rig, start, end in outs if rig in rigs]
    return any(
        start.timestamp() < end.timestamp() and (until is None or start.timestamp() < until.timestamp())
        for start, end in spans
    )


def _under_way(standing: Standing) -> Iterator[tuple[list[int], set[str]]]:
    """Each run of which the last block that has begun is not the last: from that one on, and its rigs."""
    activities = standing.plan.activities
    for i in sorted(standing.begun):
        run = [i]
        while (after := _next(standing.plan, activities[run[-1]])) and after.index not in standing.gone:
            run.append(after.index)
        if len(run) > 1 and run[1] not in standing.begun:
            yield run, _kept(activities[i], standing.by_index[i])


def _end(standing: Standing, run: Sequence[int]) -> datetime:
    """When the run will have freed its rig, as late as its visit is now."""
    late_s = [seconds_between(standing.by_index[i].end, end) for i, end in standing.ends.items()]
    return later(standing.by_index[run[-1]].rig_free, max([0, *late_s]))


def _next(plan: VisitPlan, one: PlannedActivity) -> PlannedActivity | None:
    """The next activity on the participant's way, where it is to have the same rig."""
    if not one.keeps:
        return None
    return next((a for a in plan.activities[one.index + 1 :] if a.inside == one.inside), None)


def _kept(one: PlannedActivity, placed: Activity, planned: PlannedActivity | None = None) -> set[str]:
    """The rigs of a placed activity in the classes that the first one keeps."""
    classes = (planned or one).rigs
    return {rig for rig, name in zip(placed.rigs, classes, strict=False) if name in one.keeps}
