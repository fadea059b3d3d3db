"""The due times on a run sheet: what to write down, and the planned clock where it is known."""

from __future__ import annotations

from collections.abc import Sequence

from planner.clock import later
from planner.documents.shown import hhmm, length_words
from planner.documents.texts import say
from planner.protocol.model import During, Protocol, Step, TimePoint
from planner.schedule.model import Activity, PlacedVisit


def due_lines(
    protocol: Protocol,
    visit: PlacedVisit,
    step: Step,
    activities: Sequence[Activity],
    latest_bar: tuple[str, str] | None,
) -> list[str]:
    """The due times of one occurrence of a step, with blanks to write them down; empty without `due`.

    `latest_bar` is the step and the end of it that was last written down on the sheet.
    """
    at_s = activities[0].at_s
    if at_s is None:
        return []
    if activities[0].manoeuvre is not None and step.takes is not None:
        point = _during_point(step.during, at_s, activities)
        return after_lines(point, say("run_sheet.start_of_exercise"))
    assert step.due is not None
    point = next(p for p in step.due.time_points if p.at_s == at_s)
    anchor = protocol.step(step.due.anchor)
    if step.due.side == "before":
        return [_before_line(visit, point, anchor)]
    if latest_bar == (anchor.id, step.due.anchored):
        return after_lines(point, "")
    key = "run_sheet.after_start" if step.due.anchored == "start" else "run_sheet.after_end"
    return after_lines(point, say(key, what=anchor.title))


def _before_line(visit: PlacedVisit, point: TimePoint, anchor: Step) -> str:
    start = min((a.start for a in visit.activities if a.step == anchor.id), key=lambda s: s.timestamp())
    gap = say(
        "run_sheet.gap_between",
        least=length_words(max(0, point.at_s - point.late_s)),
        most=length_words(point.at_s + point.early_s),
    )
    due = say(
        "run_sheet.due_before",
        at=length_words(point.at_s),
        what=anchor.title,
        start=hhmm(start),
        clock=hhmm(later(start, -point.at_s)),
    )
    return f"{due} ({gap})"


def _during_point(during: tuple[During, ...], at_s: int, activities: Sequence[Activity]) -> TimePoint:
    """The time point of this `at` whose manoeuvres are these."""
    done = {a.manoeuvre for a in activities}
    for part in during:
        for point in part.time_points:
            if point.at_s == at_s and done & set(part.measure):
                return point
    raise KeyError(at_s)


def after_lines(point: TimePoint, what: str) -> list[str]:
    """The due time to write down, the last that is on time, and the first where it is earlier.

    Without `what` they count from the moment that was last written down.
    """
    key = "run_sheet.due_after" if what else "run_sheet.due_after_this"
    found = [say(key, at=length_words(point.at_s), what=what)]
    most = length_words(point.at_s + point.late_s)
    found.append(say("run_sheet.not_after", time=most))
    if point.early_s:
        found.append(say("run_sheet.not_before", time=length_words(max(0, point.at_s - point.early_s))))
    return found
