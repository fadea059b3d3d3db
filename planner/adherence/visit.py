"""One visit judged: its efforts, time points, blocks and their order."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from planner.adherence.asked import Asked, Label
from planner.adherence.block import Whose, effort_lines, unknown_lines
from planner.adherence.devices import as_planned, devices
from planner.adherence.match import Found, find
from planner.adherence.model import BlockLine, EffortLine, PointLine, RestLine
from planner.adherence.moments import PlannedMoments, RecordedMoments
from planner.adherence.points import fell_away, point_lines
from planner.adherence.recorded import VisitRecord, local
from planner.adherence.stop_rule import ended
from planner.schedule.model import Activity


@dataclass(slots=True)
class VisitFound:
    """All rows of one visit. `runs` are the recorded blocks in order of time, `order` says how they fit."""

    efforts: list[EffortLine] = field(default_factory=list)
    rests: list[RestLine] = field(default_factory=list)
    points: list[PointLine] = field(default_factory=list)
    blocks: list[BlockLine] = field(default_factory=list)
    runs: list[Label] = field(default_factory=list)
    order: Found[Label] | None = None
    planned_efforts: int = 0


def judge_visit(
    whose: Whose, asked: Asked, record: VisitRecord, planned: PlannedMoments | None
) -> VisitFound:
    """The rows of a visit that has a record."""
    found = VisitFound()
    activities = _by_label(planned)
    gone = _fallen_away(asked, record)
    last = _last_block(record)
    for label, block in asked.blocks.items():
        activity = activities.get(label)
        efforts = record.blocks.get(label, [])
        if label in gone:
            continue
        found.planned_efforts += (activity.planned_efforts or 0) if activity else 0
        lines, rests = effort_lines(whose, block, activity, efforts)
        found.efforts += lines
        found.rests += rests
        if efforts:
            held, end = ended(
                block.manoeuvre, [timed.effort for timed in efforts], stopped=whose.stopped and label == last
            )
            started = local(efforts[0].effort.started, whose.zone)
            asked_for = activity.planned_efforts if activity else None
            used, planned_rigs = devices(efforts), activity.rigs if activity else ()
            kept_to = as_planned(used, activity)
            line = BlockLine(whose.key, *label, started, len(efforts), asked_for, held, end)
            found.blocks.append(line._replace(rigs=used, planned_rigs=planned_rigs, on_planned_rigs=kept_to))
    for label in record.blocks.keys() - asked.blocks.keys():
        found.efforts += unknown_lines(whose, label, record.blocks[label])
    found.points = point_lines(whose, asked, record, planned)
    _judge_order(found, asked, record, activities, gone)
    return found


def _by_label(planned: PlannedMoments | None) -> dict[Label, Activity]:
    if planned is None:
        return {}
    return {
        Label(step, at_s, activity.manoeuvre): activity
        for (step, at_s), activities in planned.activities.items()
        for activity in activities
        if activity.manoeuvre is not None
    }


def _fallen_away(asked: Asked, record: VisitRecord) -> set[Label]:
    """Blocks inside a bout that ended before their time."""
    moments = RecordedMoments(asked, record)
    return {
        label
        for point in asked.points
        if point.if_reached and fell_away(point, moments)
        for label in point.blocks
    }


def _last_block(record: VisitRecord) -> Label | None:
    """The block in which the latest effort was made."""
    ends = {label: efforts[-1].began for label, efforts in record.blocks.items()}
    return max(ends, key=ends.__getitem__, default=None)


def _judge_order(
    found: VisitFound,
    asked: Asked,
    record: VisitRecord,
    activities: Mapping[Label, Activity],
    gone: set[Label],
) -> None:
    found.runs, weights = record.runs()
    planned = [label for label in asked.blocks if label not in gone]
    if activities:
        planned.sort(key=lambda label: _start(activities.get(label)))
    found.order = find(planned, found.runs, [1] * len(planned), weights)


def _start(activity: Activity | None) -> float:
    return activity.start.timestamp() if activity else float("inf")
