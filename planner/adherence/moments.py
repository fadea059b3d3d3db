"""Starts and ends of the steps of one visit, as recorded and as planned; seconds of the epoch."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol as Shape

from planner.adherence.asked import Asked, Label, PointAsked
from planner.adherence.recorded import VisitRecord
from planner.record.effort import Effort
from planner.schedule.model import Activity, PlacedVisit


class Moments(Shape):
    """Whoever knows when steps and blocks of one visit were, or None where they were not."""

    def start(self, step: str) -> float | None: ...
    def end(self, step: str) -> float | None: ...
    def first_effort(self, label: Label) -> float | None: ...
    def last_end(self, labels: Iterable[Label]) -> float | None: ...
    def step_start(self, step: str, at_s: int) -> float | None: ...
    def step_end(self, step: str, at_s: int) -> float | None: ...


@dataclass(frozen=True, slots=True)
class RecordedMoments:
    """From marks and efforts. An effort ends `effort` after its start: ends are not recorded."""

    asked: Asked
    record: VisitRecord

    def start(self, step: str) -> float | None:
        """The mark, else the first effort of the step less preparing."""
        if (mark := self._mark(step, self._at_s(step), "start")) is not None:
            return mark
        firsts = [
            (first, self.asked.protocol.manoeuvres[label.manoeuvre].prepare_s)
            for label in self._labels(step)
            if (first := self.first_effort(label)) is not None
        ]
        return min((first - prepare_s for first, prepare_s in firsts), default=None)

    def end(self, step: str) -> float | None:
        """The end of the last effort of a step with blocks, else the mark."""
        found = self.last_end(self._labels(step))
        return self._mark(step, self._at_s(step), "end") if found is None else found

    def first_effort(self, label: Label) -> float | None:
        """The start of the block's earliest effort."""
        efforts = self.record.blocks.get(label)
        return efforts[0].began if efforts else None

    def last_end(self, labels: Iterable[Label]) -> float | None:
        """The end of the latest effort of these blocks."""
        return max(
            (
                efforts[-1].began + self._effort_s(efforts[-1].effort)
                for label in labels
                if (efforts := self.record.blocks.get(label))
            ),
            default=None,
        )

    def step_start(self, step: str, at_s: int) -> float | None:
        """The start mark of one occurrence of a step without blocks."""
        return self._mark(step, at_s, "start")

    def step_end(self, step: str, at_s: int) -> float | None:
        """The end mark of one occurrence of a step without blocks."""
        return self._mark(step, at_s, "end")

    def _labels(self, step: str) -> list[Label]:
        at_s = self._at_s(step)
        return [Label(step, at_s, name) for name in self.asked.steps[step].measure]

    def _at_s(self, step: str) -> int | None:
        """The time in `at` of a step that is due itself: what others count from has one occurrence."""
        due = self.asked.steps[step].due
        return due.time_points[0].at_s if due and len(due.time_points) == 1 else None

    def _effort_s(self, effort: Effort) -> int:
        return self.asked.protocol.manoeuvres[effort.manoeuvre].effort_s

    def _mark(self, step: str, at_s: int | None, what: str) -> float | None:
        found = self.record.mark(step, at_s, what)
        return None if found is None else found.timestamp()


@dataclass(frozen=True, slots=True)
class PlannedMoments:
    """From the activities of a placed visit."""

    activities: Mapping[tuple[str, int | None], tuple[Activity, ...]]

    def start(self, step: str) -> float | None:
        """The start of the step's first activity."""
        return min((a.start.timestamp() for a in self._own(step)), default=None)

    def end(self, step: str) -> float | None:
        """The end of the step's last activity."""
        return max((a.end.timestamp() for a in self._own(step)), default=None)

    def _own(self, step: str) -> tuple[Activity, ...]:
        """The step's own activities: not those inside a bout; its one time point where it is due."""
        if own := self.activities.get((step, None)):
            return own
        return tuple(a for (name, _), found in self.activities.items() if name == step for a in found)

    def first_effort(self, label: Label) -> float | None:
        """The start of the block's first planned effort."""
        for activity in self.activities.get((label.step, label.at_s), ()):
            if activity.manoeuvre == label.manoeuvre and activity.first_effort is not None:
                return activity.first_effort.timestamp()
        return None

    def last_end(self, labels: Iterable[Label]) -> float | None:
        """The planned end of the latest of these blocks."""
        return max(
            (
                activity.end.timestamp()
                for label in labels
                for activity in self.activities.get((label.step, label.at_s), ())
                if activity.manoeuvre == label.manoeuvre
            ),
            default=None,
        )

    def step_start(self, step: str, at_s: int) -> float | None:
        """The planned start of one occurrence of a step without blocks."""
        return min((a.start.timestamp() for a in self.activities.get((step, at_s), ())), default=None)

    def step_end(self, step: str, at_s: int) -> float | None:
        """The planned end of one occurrence of a step without blocks."""
        return max((a.end.timestamp() for a in self.activities.get((step, at_s), ())), default=None)


def planned_moments(placed: PlacedVisit) -> PlannedMoments:
    """The moments of a placed visit."""
    activities: dict[tuple[str, int | None], tuple[Activity, ...]] = {}
    for activity in placed.activities:
        where = (activity.step, activity.at_s)
        activities[where] = (*activities.get(where, ()), activity)
    return PlannedMoments(activities)


def anchor(point: PointAsked, moments: Moments) -> float | None:
    """The moment from which a time point counts; with `before`, the start of the step that follows."""
    if point.side == "before" or point.anchored == "start":
        return moments.start(point.anchor)
    return moments.end(point.anchor)


def happened(point: PointAsked, moments: Moments) -> float | None:
    """The moment that is held against the window: the first effort of the first block, or the step's start.

    With `before`, the end of the occurrence's last effort (or of the step).
    """
    if point.side == "before":
        if point.blocks:
            return moments.last_end(point.blocks)
        return moments.step_end(point.step, point.window.at_s)
    if point.blocks:
        return moments.first_effort(point.blocks[0])
    return moments.step_start(point.step, point.window.at_s)


def seconds_after(point: PointAsked, moments: Moments) -> int | None:
    """Seconds from the anchor to what happened (the gap, with `before`); None where either is missing."""
    from_, to = anchor(point, moments), happened(point, moments)
    if from_ is None or to is None:
        return None
    return round(from_ - to) if point.side == "before" else round(to - from_)
