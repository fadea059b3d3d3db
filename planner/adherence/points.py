"""Time points of one visit, counted from the recorded moment of their anchor."""

from __future__ import annotations

from planner.adherence.asked import Asked, PointAsked
from planner.adherence.block import Whose
from planner.adherence.devices import devices
from planner.adherence.model import Kept, PointLine
from planner.adherence.moments import (
    PlannedMoments,
    RecordedMoments,
    anchor,
    happened,
    seconds_after,
)
from planner.adherence.recorded import VisitRecord, at
from planner.schedule.model import Activity


def point_lines(
    whose: Whose, asked: Asked, record: VisitRecord, planned: PlannedMoments | None
) -> list[PointLine]:
    """Every time point that the visit reached or should have reached, and how it was kept."""
    moments = RecordedMoments(asked, record)
    stopped = None if record.stopped is None else record.stopped.at.timestamp()
    return [
        _line(whose, point, moments, planned, stopped)
        for point in asked.points
        if not fell_away(point, moments)
    ]


def fell_away(point: PointAsked, moments: RecordedMoments) -> bool:
    """Whether a bout that may end early is recorded to have ended before this time point's blocks fit in.

    Where its start or end is not recorded, and nobody stopped the visit, it counts as long as the
    protocol's `about`: what a plan does not have is not missed either.
    """
    if not point.if_reached or happened(point, moments) is not None:
        return False
    start, end = moments.start(point.anchor), moments.end(point.anchor)
    takes = moments.asked.steps[point.anchor].takes
    if start is not None and end is not None:
        length_s = end - start
    elif takes is not None and moments.record.stopped is None:
        length_s = takes.about_s
    else:
        return False
    return length_s < point.window.at_s + _shortest_s(point, moments)


def _shortest_s(point: PointAsked, moments: RecordedMoments) -> int:
    """Seconds from the first effort of the blocks to the last one's end, at the least efforts."""
    manoeuvres = [moments.asked.protocol.manoeuvres[label.manoeuvre] for label in point.blocks]
    if not manoeuvres:
        return 0
    return sum(one.length_s(one.at_least) for one in manoeuvres) - manoeuvres[0].prepare_s


def _line(
    whose: Whose,
    point: PointAsked,
    moments: RecordedMoments,
    planned: PlannedMoments | None,
    stopped: float | None,
) -> PointLine:
    from_, to = anchor(point, moments), happened(point, moments)
    kept = _kept(point, from_, to, stopped)
    after_s = None if kept in (Kept.NO_ANCHOR, Kept.STOPPED) else seconds_after(point, moments)
    activity = _activity(point, planned)
    return PointLine(
        whose.key,
        whose.condition,
        point.step,
        point.window.at_s,
        point.side,
        point.anchor,
        point.anchored,
        point.blocks[0].manoeuvre if point.blocks else None,
        point.low_s,
        point.high_s,
        _planned_after(point, planned),
        after_s,
        kept,
        point.important,
        None if to is None else at(to, whose.zone),
        _rigs(point, moments, activity),
        tuple(activity.staff.values()) if activity else (),
    )


def _kept(point: PointAsked, from_: float | None, to: float | None, stopped: float | None) -> Kept:
    if stopped is not None and _after_the_stop(point, from_, to, stopped):
        return Kept.STOPPED
    if from_ is None:
        return Kept.NO_ANCHOR
    if to is None:
        return Kept.NEVER
    after_s = round(from_ - to) if point.side == "before" else round(to - from_)
    if point.low_s <= after_s <= point.high_s:
        return Kept.ON_TIME
    # A gap before the anchor that is too wide means: measured too early.
    too_much = Kept.EARLY if point.side == "before" else Kept.LATE
    too_little = Kept.LATE if point.side == "before" else Kept.EARLY
    return too_much if after_s > point.high_s else too_little


def _after_the_stop(point: PointAsked, from_: float | None, to: float | None, stopped: float) -> bool:
    """Whether the visit had ended before this time point was measured or its window had closed."""
    if to is not None:
        return to >= stopped
    if point.side == "before" or from_ is None:
        return from_ is None or from_ >= stopped
    return from_ + point.high_s >= stopped


def _planned_after(point: PointAsked, planned: PlannedMoments | None) -> int | None:
    found = None if planned is None else seconds_after(point, planned)
    return point.window.at_s if found is None else found


def _rigs(point: PointAsked, moments: RecordedMoments, activity: Activity | None) -> tuple[str, ...]:
    """The devices recorded for the first block; as planned where the record does not tell."""
    recorded = devices(moments.record.blocks.get(point.blocks[0], ())) if point.blocks else ()
    return recorded or (activity.rigs if activity else ())


def _activity(point: PointAsked, planned: PlannedMoments | None) -> Activity | None:
    found = planned.activities.get((point.step, point.window.at_s), ()) if planned else ()
    return found[0] if found else None
