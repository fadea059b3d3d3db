"""What one visit did in another order, or where it should not have been: between, outside, after."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise

from planner.adherence.asked import Label
from planner.adherence.deviation import (
    Judged,
    Size,
    block_deviation,
    of_efforts,
    of_points,
    of_rests,
    of_stop_rules,
)
from planner.adherence.model import Deviation
from planner.adherence.moments import RecordedMoments
from planner.adherence.recorded import at
from planner.clock import duration_words, seconds_between
from planner.protocol.model import Step


def visit_deviations(visit: Judged) -> list[Deviation]:
    """All deviations of one visit."""
    return [
        *of_points(visit),
        *of_efforts(visit),
        *of_rests(visit),
        *of_stop_rules(visit),
        *_of_order(visit),
        *_of_numbers(visit),
        *_outside_the_bout(visit),
        *_rested_too_short(visit),
        *_started_too_late(visit),
        *_after_the_stop(visit),
    ]


def _of_order(visit: Judged) -> Iterator[Deviation]:
    """Blocks out of their order, or taken up again after another one."""
    order, runs = visit.found.order, visit.found.runs
    if order is None:
        return
    for pair in order.swapped:
        done = len(dict.fromkeys(runs[: pair.recorded + 1])) - 1
        size, words = Size(done - pair.planned, "places"), "done out of its order in the visit"
        yield block_deviation(visit, "order of blocks", runs[pair.recorded], words, size)
    for place in order.repeated:
        again = order.weights[place] if order.weights else 1
        words = f"taken up again after another block, {again} efforts"
        yield block_deviation(visit, "block repeated", runs[place], words, Size(again, "efforts"))


def _of_numbers(visit: Judged) -> Iterator[Deviation]:
    """Efforts of a block done in another order than they are numbered."""
    for label, efforts in visit.record.blocks.items():
        numbers = [timed.effort.number for timed in efforts]
        if wrong := sum(a > b for a, b in pairwise(numbers)):
            words = "efforts done in the order " + ", ".join(map(str, numbers))
            yield block_deviation(visit, "order of efforts", label, words, Size(wrong, "places"))


def _outside_the_bout(visit: Judged) -> Iterator[Deviation]:
    """Blocks that should lie wholly inside a bout and begin before it or end after it."""
    moments = RecordedMoments(visit.wanted, visit.record)
    inside = {label for point in visit.wanted.points if point.side == "during" for label in point.blocks}
    for label, efforts in visit.record.blocks.items():
        if label not in inside:
            continue
        start, end, last = moments.start(label.step), moments.end(label.step), moments.last_end([label])
        if start is not None and efforts[0].began < start:
            size, words = (
                Size(round(efforts[0].began - start), "s"),
                f"began before the start of {label.step}",
            )
            yield block_deviation(visit, "outside the bout", label, words, size)
        elif end is not None and last is not None and last > end:
            size, words = Size(round(last - end), "s"), f"ended after the end of {label.step}"
            yield block_deviation(visit, "outside the bout", label, words, size)


def _rested_too_short(visit: Judged) -> Iterator[Deviation]:
    """Parts of the visit that are a rest and were marked as ended too soon; none of a stopped visit."""
    if visit.record.stopped is not None:
        return
    for step in visit.wanted.protocol.visit:
        times = [point.at_s for point in step.due.time_points] if step.due else [None]
        for at_s in times if step.rest_s is not None else ():
            start, end = (visit.record.mark(step.id, at_s, what) for what in ("start", "end"))
            if start is None or end is None or step.rest_s is None:
                continue
            rested_s = round(seconds_between(start, end))
            if rested_s < step.rest_s:
                rested, least = duration_words(rested_s), duration_words(step.rest_s)
                words = f"rest of {rested}; at least {least} asked for"
                zone = visit.line.happened.tzinfo if visit.line.happened else None
                begun = start.astimezone(zone)
                yield _of_step(visit, "rest cut short", step.id, at_s, begun, rested_s - step.rest_s, words)


def _of_step(
    visit: Judged, kind: str, step: str, at_s: int | None, when: datetime | None, size_s: int, words: str
) -> Deviation:
    """A deviation of a part of the visit that has no blocks; its size in seconds."""
    return Deviation(kind, visit.line.key, step, at_s, None, None, when, size_s, "s", False, words)


def _started_too_late(visit: Judged) -> Iterator[Deviation]:
    """Steps with `starts_within` that began later than that after the recorded end of the one before."""
    moments = RecordedMoments(visit.wanted, visit.record)
    for before, step in pairwise(visit.wanted.protocol.visit):
        if step.starts_within_s is None:
            continue
        end, start = _end(before, moments), _start(step, moments)
        if end is None or start is None:
            continue
        gap_s = round(start - end)
        if gap_s > step.starts_within_s:
            allowed = duration_words(step.starts_within_s)
            words = f"began {duration_words(gap_s)} after the end of {before.id}; within {allowed} asked for"
            zone = visit.line.happened.tzinfo if visit.line.happened else None
            late_s = gap_s - step.starts_within_s
            yield _of_step(visit, "started too late", step.id, None, at(start, zone), late_s, words)


def _end(step: Step, moments: RecordedMoments) -> float | None:
    """The recorded end of a step's last occurrence; of a rest only where somebody marked it."""
    if step.due is None:
        return moments.end(step.id)
    return moments.last_end(
        Label(step.id, p.at_s, name) for p in step.due.time_points for name in step.measure
    )


def _start(step: Step, moments: RecordedMoments) -> float | None:
    """The recorded start of preparing for a step's first occurrence."""
    if step.due is None:
        return moments.start(step.id)
    first = step.due.time_points[0].at_s
    if not step.measure:
        return moments.step_start(step.id, first)
    began = moments.first_effort(Label(step.id, first, step.measure[0]))
    prepare_s = moments.asked.protocol.manoeuvres[step.measure[0]].prepare_s
    return None if began is None else began - prepare_s


def _after_the_stop(visit: Judged) -> Iterator[Deviation]:
    """Efforts recorded after the visit was stopped."""
    if visit.record.stopped is None:
        return
    stopped = visit.record.stopped.at.timestamp()
    for label, efforts in visit.record.blocks.items():
        for began, effort in efforts:
            late_s = round(began - stopped)
            if late_s > 0:
                when = duration_words(late_s)
                words = f"effort {effort.number} began {when} after the visit was stopped"
                yield block_deviation(visit, "after the stop", label, words, Size(late_s, "s"), effort.number)
