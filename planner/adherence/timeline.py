"""One visit as planned and as kept, on one line that counts from the end of exercise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from planner.adherence.asked import Asked, asked
from planner.adherence.model import Adherence, Kept
from planner.adherence.moments import RecordedMoments, planned_moments
from planner.adherence.recorded import VisitRecord, by_visit
from planner.record.effort import Happened, VisitKey
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study


class Stretch(NamedTuple):
    """From second to second; `row` is the manoeuvre, "" for tasks and bouts; `effort` 0 for a whole one."""

    row: str
    what: str
    planned: bool
    effort: int
    start_s: int
    end_s: int


class Window(NamedTuple):
    """A time point's window from the recorded zero, and where its first effort was (None: never)."""

    row: str
    at_s: int
    low_s: int
    high_s: int
    happened_s: int | None
    kept: Kept


@dataclass(frozen=True)
class Timeline:
    """Seconds from zero: the end of the first bout of exercise, planned and recorded each its own.

    `zero` says what zero is: the step's id; "" where the visit has no exercise and zero is its start.
    `zero_recorded` is False where the end is not recorded; kept times then count from the planned one.
    """

    key: VisitKey
    zero: str
    zero_recorded: bool
    stretches: tuple[Stretch, ...]
    windows: tuple[Window, ...]


def timeline(
    study: Study, schedule: Schedule | None, happened: Happened, found: Adherence, key: VisitKey
) -> Timeline | None:
    """The line of one visit; None where it has neither plan nor record."""
    visit = next(
        (v for v in study.asked.get(key.participant, ()) if (v.kind, v.number) == (key.visit, key.number)),
        None,
    )
    placed = _placed(schedule, key)
    record = by_visit(happened).get(key)
    if visit is None or (placed is None and record is None):
        return None
    wanted = asked(study.protocols[visit.protocol])
    bout = next((step.id for step in wanted.protocol.visit if step.exercise), "")
    planned_zero = _planned_zero(placed, bout)
    recorded_zero = _recorded_zero(wanted, record, bout)
    zero = recorded_zero if recorded_zero is not None else planned_zero
    stretches: list[Stretch] = []
    if placed is not None and planned_zero is not None:
        stretches += _planned(placed, planned_zero)
    if record is not None and zero is not None:
        stretches += _kept(wanted, record, zero)
    windows = () if zero is None or record is None else _windows(wanted, record, found, zero)
    return Timeline(key, bout, recorded_zero is not None, tuple(stretches), windows)


def _placed(schedule: Schedule | None, key: VisitKey) -> PlacedVisit | None:
    for visit in schedule.visits if schedule else ():
        if (visit.participant, visit.visit, visit.number) == (key.participant, key.visit, key.number):
            return visit
    return None


def _planned_zero(placed: PlacedVisit | None, bout: str) -> float | None:
    if placed is None:
        return None
    return planned_moments(placed).end(bout) if bout else placed.start.timestamp()


def _recorded_zero(wanted: Asked, record: VisitRecord | None, bout: str) -> float | None:
    if record is None:
        return None
    moments = RecordedMoments(wanted, record)
    return moments.end(bout) if bout else moments.start(wanted.protocol.visit[0].id)


def _planned(placed: PlacedVisit, zero: float) -> list[Stretch]:
    return [
        Stretch(
            activity.manoeuvre or "",
            activity.step,
            True,
            0,
            round((activity.first_effort or activity.start).timestamp() - zero),
            round(activity.end.timestamp() - zero),
        )
        for activity in placed.activities
    ]


def _kept(wanted: Asked, record: VisitRecord, zero: float) -> list[Stretch]:
    found = []
    for label, efforts in record.blocks.items():
        block = wanted.blocks.get(label)
        length_s = block.manoeuvre.effort_s if block else 0
        for began, effort in efforts:
            start_s = round(began - zero)
            found.append(
                Stretch(label.manoeuvre, label.step, False, effort.number, start_s, start_s + length_s)
            )
    for step in wanted.steps:
        start, end = record.mark(step, None, "start"), record.mark(step, None, "end")
        if start and end:
            bounds = round(start.timestamp() - zero), round(end.timestamp() - zero)
            found.append(Stretch("", step, False, 0, *bounds))
    return found


def _windows(wanted: Asked, record: VisitRecord, found: Adherence, zero: float) -> tuple[Window, ...]:
    """Each window hung on the recorded moment of its own anchor."""
    moments = RecordedMoments(wanted, record)
    windows = []
    for point in found.time_points:
        if point.key != record.key:
            continue
        from_start = point.side == "before" or point.anchored == "start"
        anchor = moments.start(point.anchor) if from_start else moments.end(point.anchor)
        if anchor is None:
            continue
        base_s, sign = round(anchor - zero), -1 if point.side == "before" else 1
        low_s, high_s = sorted((base_s + sign * point.low_s, base_s + sign * point.high_s))
        after_s = point.happened_after_s
        happened_s = None if after_s is None else base_s + sign * after_s
        at_s = base_s + sign * point.at_s
        windows.append(Window(point.manoeuvre or "", at_s, low_s, high_s, happened_s, point.kept))
    return tuple(windows)
