"""How late what is due begins, once it was due and could: people take a moment, not always the same."""

from __future__ import annotations

from collections.abc import Iterator

from planner.adherence.asked import Asked, PointAsked
from planner.adherence.moments import RecordedMoments, anchor, happened, planned_moments, seconds_after
from planner.adherence.recorded import VisitRecord
from planner.schedule.model import PlacedVisit


def lateness(wanted: Asked, record: VisitRecord, placed: PlacedVisit | None) -> Iterator[tuple[str, float]]:
    """For each time point after or during something its step, and seconds late (early: minus).

    Due is what the plan has, counted from the recorded anchor; without a plan, the time that the
    protocol writes. Whatever could not begin by then, for the one before it ended late, is late only
    from when it could. Time points `before` something wait for it and teach nothing here.
    """
    moments = RecordedMoments(wanted, record)
    planned = None if placed is None else planned_moments(placed)
    ends = _ends(wanted, record)
    for point in wanted.points:
        from_, began = anchor(point, moments), happened(point, moments)
        if point.side == "before" or from_ is None or began is None:
            continue
        asked_s = None if planned is None else seconds_after(point, planned)
        due = from_ + (point.window.at_s if asked_s is None else asked_s)
        could = max((end for end in ends if end <= began), default=due) + _prepare_s(wanted, point)
        if could <= due:
            yield point.step, began - due
        elif began >= could:
            yield point.step, began - could


def _ends(wanted: Asked, record: VisitRecord) -> list[float]:
    """When efforts and tasks ended."""
    found = [
        block[-1].began + asked.manoeuvre.effort_s
        for label, block in record.blocks.items()
        if (asked := wanted.blocks.get(label)) is not None
    ]
    return found + [mark.at.timestamp() for (_, _, what), mark in record.marks.items() if what == "end"]


def _prepare_s(wanted: Asked, point: PointAsked) -> int:
    return wanted.blocks[point.blocks[0]].manoeuvre.prepare_s if point.blocks else 0
