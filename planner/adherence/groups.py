"""Shares of time points by participant, rig, time point, week; by staff member only where asked for."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass

import numpy as np

from planner.adherence.model import Adherence, Kept, PointLine
from planner.adherence.recorded import protocol_files
from planner.adherence.shares import Share
from planner.clock import duration_words
from planner.protocol.model import Protocol
from planner.study.model import Study

_DRAWS = 10_000


@dataclass(frozen=True, slots=True)
class Group:
    """One group's share of time points on time."""

    name: str
    share: Share


@dataclass(frozen=True, slots=True)
class Clustered:
    """The 95 % range of the share when whole participants are drawn; None where there are fewer than two."""

    low: float | None
    high: float | None
    participants: int
    draws: int


def judged(found: Adherence) -> list[PointLine]:
    """The time points that are in the share."""
    return [point for point in found.time_points if point.on_time is not None]


def by_participant(found: Adherence) -> tuple[Group, ...]:
    """A share for each participant."""
    return _grouped(judged(found), lambda point: [point.key.participant])


def by_rig(found: Adherence) -> tuple[Group, ...]:
    """A share for each rig: the one recorded for the first block of the time point, else the planned one."""
    return _grouped(judged(found), lambda point: point.rigs)


def by_person(found: Adherence, *, turned_on: bool = False) -> tuple[Group, ...]:
    """A share for each member of staff planned for the block; nothing unless a coordinator turned it on."""
    return _grouped(judged(found), lambda point: point.staff) if turned_on else ()


def by_time_point(found: Adherence, study: Study) -> tuple[Group, ...]:
    """A share for each time point, in the order of the visit, named as people say it."""
    name = point_names(study)
    return _grouped(judged(found), lambda point: [name(point)], in_order=False)


def by_week(found: Adherence) -> tuple[Group, ...]:
    """A share for each ISO week, by the date of the visit."""
    dates = {line.key: line.happened for line in found.visits}

    def weeks(point: PointLine) -> list[str]:
        moment = dates.get(point.key)
        return [] if moment is None else [f"{moment:%G}-W{moment:%V}"]

    return _grouped(judged(found), weeks)


def point_names(study: Study) -> Callable[[PointLine], str]:
    """What each time point is called: `1 min after the end of exercise, Forced vital capacity`.

    Steps and manoeuvres go by their titles; exercise is just that where a visit has one bout of it.
    """
    files = protocol_files(study)
    known: dict[tuple[str, str, int, str | None], str] = {}

    def name(point: PointLine) -> str:
        about = files[point.key], point.step, point.at_s, point.manoeuvre
        if about not in known:
            known[about] = _point_name(study.protocols[about[0]], point)
        return known[about]

    return name


def _point_name(protocol: Protocol, point: PointLine) -> str:
    when, where = duration_words(point.at_s), anchor_title(protocol, point.anchor)
    what = protocol.manoeuvres[point.manoeuvre].title if point.manoeuvre else protocol.step(point.step).title
    if point.side == "during":
        return f"{when} into {where}, {what}"
    if point.side == "before":
        return f"{when} before the start of {where}, {what}"
    return f"{when} after the {point.anchored} of {where}, {what}"


def anchor_title(protocol: Protocol, step_id: str) -> str:
    """What a time counts from: `exercise` where the visit has one bout, else the step's title in quotes."""
    step = protocol.step(step_id)
    bouts = sum(one.exercise for one in protocol.visit)
    return "exercise" if step.exercise and bouts == 1 else f"“{step.title}”"


def _grouped(
    points: Iterable[PointLine],
    names: Callable[[PointLine], Iterable[Hashable]],
    *,
    in_order: bool = True,
) -> tuple[Group, ...]:
    counts: dict[str, list[int]] = {}
    for point in points:
        for name in names(point):
            count = counts.setdefault(str(name), [0, 0])
            count[0] += point.kept is Kept.ON_TIME
            count[1] += 1
    names_in_order = sorted(counts) if in_order else list(counts)
    return tuple(Group(name, Share(*counts[name])) for name in names_in_order)


def clustered(found: Adherence, *, seed: int = 1, draws: int = _DRAWS) -> Clustered:
    """The share's range by drawing participants with replacement (percentile cluster bootstrap).

    Efron & Tibshirani 1993 for the percentiles; the participant is what is drawn, with all of its
    time points, for those of one person resemble each other.
    """
    groups = by_participant(found)
    if len(groups) < 2:
        return Clustered(None, None, len(groups), 0)
    counts = np.array([group.share for group in groups], dtype=float)
    chosen = np.random.default_rng(seed).integers(len(counts), size=(draws, len(counts)))
    kept, of = counts[chosen].sum(axis=1).T
    low, high = np.quantile(kept / of, [0.025, 0.975])
    return Clustered(float(low), float(high), len(groups), draws)
