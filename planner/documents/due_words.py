"""Time points and their windows in words, for texts and tables."""

from __future__ import annotations

from planner.documents.rule_words import joined
from planner.documents.shown import length_words
from planner.documents.texts import say
from planner.protocol.model import Protocol, Step, TimePoint


def times_words(protocol: Protocol, step: Step) -> str:
    """When a step with `due` is due: `1 min, 10 min and 30 min after Rowing`; empty without `due`."""
    if step.due is None:
        return ""
    times = joined([length_words(point.at_s) for point in step.due.time_points])
    return say(_key(step), times=times, what=protocol.step(step.due.anchor).title)


def _key(step: Step) -> str:
    assert step.due is not None
    if step.due.side == "before":
        return "ethics.times_before"
    return "ethics.times_start" if step.due.anchored == "start" else "ethics.times_after"


def point_words(protocol: Protocol, step: Step, point: TimePoint) -> str:
    """One time point of a step: `10 min after Rowing`."""
    assert step.due is not None
    return say(_key(step), times=length_words(point.at_s), what=protocol.step(step.due.anchor).title)


def window_words(step: Step, point: TimePoint) -> tuple[str, str]:
    """The first and the last moment that are on time, as distances from what it counts from."""
    early, late = point.early_s, point.late_s
    if step.due is not None and step.due.side == "before":
        early, late = late, early  # the gap may be longer by `early` and shorter by `late`
    first_s = max(0, point.at_s - early)  # nothing is measured after the start of what it comes before
    return length_words(first_s), length_words(point.at_s + late)
