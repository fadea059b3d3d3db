"""Within one visit: its activities, their lengths, order and windows; from the protocol itself."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import groupby, pairwise

from planner.protocol.model import Due, Protocol, Step, TimePoint
from planner.schedule.changes import ENDED_EARLY, WINDOW_MISSED
from planner.schedule.model import Activity, Broken
from planner.schedule.repacked import is_listed
from planner.schedule.rules.case import Case, Judged, activity_words, clock, second, span_words
from planner.timing.plan import Kind

Key = tuple[str, int | None, str | None]


def activities(case: Case) -> Iterator[Broken]:
    """Exactly the protocol's activities, each once."""
    for visit in case.visits:
        if visit.plan is None:
            continue
        planned = [(one.step, one.at_s, one.manoeuvre) for one in visit.plan.activities]
        placed = Counter(_key(one) for one in visit.placed.activities)
        for key in planned:
            if key not in placed and not is_listed(case.schedule, "dropped", visit.placed, key[0], key[1]):
                yield visit.broken("activities", f"{_words(key)} is missing")
        for key, number in placed.items():
            if key not in planned:
                yield visit.broken("activities", f"{_words(key)} is not in the protocol")
            elif number > 1:
                yield visit.broken("activities", f"{_words(key)} stands there {number} times")


def lengths(case: Case) -> Iterator[Broken]:
    """No activity is shorter than planned; the first effort follows right after preparing."""
    for visit in case.visits:
        for pair in visit.pairs():
            planned, placed = pair.planned, pair.placed
            length = second(placed.end) - second(placed.start)
            if length < planned.length_s and not _ended_early(case, visit, placed):
                words = f"{pair.words} lasts {span_words(length)}; it takes {span_words(planned.length_s)}"
                yield visit.broken("length", words)
            if planned.kind is not Kind.BLOCK:
                if placed.first_effort is not None:
                    yield visit.broken("first-effort", f"{pair.words} has no efforts, and yet a first one")
            elif placed.first_effort is None:
                yield visit.broken("first-effort", f"{pair.words} has no first effort")
            elif second(placed.first_effort) != second(placed.start) + planned.prepare_s:
                words = (
                    f"{pair.words} has its first effort at {clock(placed.first_effort)}; "
                    f"preparing takes {span_words(planned.prepare_s)}"
                )
                yield visit.broken("first-effort", words)
            if placed.planned_efforts != planned.planned_efforts:
                words = f"{pair.words} plans {placed.planned_efforts} efforts, not {planned.planned_efforts}"
                yield visit.broken("planned-efforts", words)


def _ended_early(case: Case, visit: Judged, placed: Activity) -> bool:
    return is_listed(case.schedule, ENDED_EARLY, visit.placed, placed.step, placed.at_s)


def order(case: Case) -> Iterator[Broken]:
    """Each activity starts at or after the end of the one that the protocol puts before it."""
    for visit in case.visits:
        if visit.protocol is None:
            continue
        by_key = {_key(one): one for one in visit.placed.activities}
        there = [by_key[key] for key in _sequence(visit.protocol) if key in by_key]
        for before, after in pairwise(there):
            if second(after.start) < second(before.end):
                words = (
                    f"{activity_words(after)} starts at {clock(after.start)}, before "
                    f"{activity_words(before)} has ended at {clock(before.end)}"
                )
                yield visit.broken("order", words)


def starts_within(case: Case) -> Iterator[Broken]:
    """A step with `starts_within` follows soon enough on what was before it, unless listed as missed."""
    yield from (broken for is_named, broken in _too_long_after(case) if not is_named)


def _too_long_after(case: Case) -> Iterator[tuple[bool, Broken]]:
    """Every step that starts too long after what was before it, and whether the plan lists it as missed."""
    for visit in case.visits:
        if visit.protocol is None:
            continue
        by_key = {_key(one): one for one in visit.placed.activities}
        sequence = list(_sequence(visit.protocol))
        for step in visit.protocol.visit:
            place = next((n for n, key in enumerate(sequence) if key[0] == step.id), 0)
            if step.starts_within_s is None or place == 0:
                continue
            before, after = by_key.get(sequence[place - 1]), by_key.get(sequence[place])
            if before and after and (gap := second(after.start) - second(before.end)) > step.starts_within_s:
                words = (
                    f"{activity_words(after)} starts at {clock(after.start)}, {span_words(gap)} after "
                    f"{activity_words(before)}; at most {span_words(step.starts_within_s)} is allowed"
                )
                is_named = is_listed(case.schedule, WINDOW_MISSED, visit.placed, step.id, after.at_s)
                yield is_named, visit.broken("starts-within", words)


def windows(case: Case) -> Iterator[Broken]:
    """Each time point lies in its window, both ends included, counted from its anchor as planned.

    A mended plan may miss windows that it lists as missed: those are warned of.
    """
    yield from (broken for is_named, broken in _off_windows(case) if not is_named)


def missed_windows(case: Case) -> Iterator[Broken]:
    """The windows that a mended plan misses and lists, and the steps that come too long after another."""
    both = (*_off_windows(case), *_too_long_after(case))
    yield from (broken for is_named, broken in both if is_named)


def _off_windows(case: Case) -> Iterator[tuple[bool, Broken]]:
    """Every time point outside its window, and whether the plan lists it as missed."""
    for visit in case.visits:
        if visit.protocol is None:
            continue
        for step in visit.protocol.visit:
            if step.due:
                for point in step.due.time_points:
                    for broken in _due(visit, step, step.due, point):
                        yield (
                            is_listed(case.schedule, WINDOW_MISSED, visit.placed, step.id, point.at_s),
                            broken,
                        )
            for during in step.during:
                for point in during.time_points:
                    for broken in _during(visit, step, point, during.measure[0]):
                        yield (
                            is_listed(case.schedule, WINDOW_MISSED, visit.placed, step.id, point.at_s),
                            broken,
                        )


def _is_missed(case: Case, visit: Judged, step: Step, point: TimePoint) -> bool:
    return is_listed(case.schedule, WINDOW_MISSED, visit.placed, step.id, point.at_s)


def _due(visit: Judged, step: Step, due: Due, point: TimePoint) -> Iterator[Broken]:
    own = _occurrence(visit, step, point.at_s)
    anchor = _occurrence(visit, visit.protocol.step(due.anchor), None) if visit.protocol else []
    if not own or not anchor:
        return
    if due.side == "before":
        seconds = second(anchor[0].start) - second(own[-1].end)
        low, high = point.at_s - point.late_s, point.at_s + point.early_s
        words = (
            f"{activity_words(own[-1])} ends at {clock(own[-1].end)}, {_signed(seconds)} before {due.anchor}"
        )
    else:
        from_start = due.anchored == "start"
        counted = anchor[0].start if from_start else anchor[-1].end
        first = own[0].first_effort or own[0].start
        seconds = second(first) - second(counted)
        low, high = point.at_s - point.early_s, point.at_s + point.late_s
        side = "start" if from_start else "end"
        counted_from = f"the {side} of {due.anchor}"
        words = f"{activity_words(own[0])} is at {clock(first)}, {_signed(seconds)} after {counted_from}"
    if not low <= seconds <= high:
        yield visit.broken("window", f"{words}; on time is {_signed(low)} to {_signed(high)}")


def _during(visit: Judged, step: Step, point: TimePoint, manoeuvre: str) -> Iterator[Broken]:
    by_key = {_key(one): one for one in visit.placed.activities}
    bout, block = by_key.get((step.id, None, None)), by_key.get((step.id, point.at_s, manoeuvre))
    if bout is None or block is None:
        return
    first = block.first_effort or block.start
    seconds = second(first) - second(bout.start)
    low, high = point.at_s - point.early_s, point.at_s + point.late_s
    if not low <= seconds <= high:
        words = f"{activity_words(block)} is at {clock(first)}, {_signed(seconds)} into {step.id}"
        yield visit.broken("window", f"{words}; on time is {_signed(low)} to {_signed(high)}")


def inside(case: Case) -> Iterator[Broken]:
    """Blocks of `during` lie wholly inside their bout."""
    for visit in case.visits:
        for pair in visit.pairs():
            bout = visit.by_index.get(pair.planned.inside) if pair.planned.inside is not None else None
            if bout is None:
                continue
            if second(pair.placed.start) < second(bout.start) or second(pair.placed.end) > second(bout.end):
                words = (
                    f"{pair.words} to {clock(pair.placed.end)} does not lie inside {activity_words(bout)}, "
                    f"{clock(bout.start)} to {clock(bout.end)}"
                )
                yield visit.broken("inside", words)


def _occurrence(visit: Judged, step: Step, at_s: int | None) -> list[Activity]:
    """The placed activities of one occurrence, in the listed order; empty where one is missing."""
    by_key = {_key(one): one for one in visit.placed.activities}
    found = [by_key.get((step.id, at_s, name)) for name in step.measure or (None,)]
    return [one for one in found if one is not None] if None not in found else []


def _sequence(protocol: Protocol) -> Iterator[Key]:
    """The keys of all activities outside bouts, in the order in which they must follow each other."""
    for _, series in groupby(enumerate(protocol.visit), key=_series):
        moments: list[tuple[int, int, Step, int | None]] = []
        for number, step in series:
            if step.due is None:
                moments.append((0, number, step, None))
                continue
            sign = -1 if step.due.side == "before" else 1
            moments += [(sign * point.at_s, number, step, point.at_s) for point in step.due.time_points]
        for _, _, step, at_s in sorted(moments, key=lambda moment: moment[:2]):
            for manoeuvre in step.measure or (None,):
                yield (step.id, at_s, manoeuvre)


def _series(item: tuple[int, Step]) -> tuple[object, ...]:
    """Equal for neighbouring steps with due from the same end of the same step."""
    number, step = item
    return (step.due.anchor, step.due.side, step.due.anchored) if step.due else (number,)


def _key(activity: Activity) -> Key:
    return (activity.step, activity.at_s, activity.manoeuvre)


def _words(key: Key) -> str:
    step, at_s, manoeuvre = key
    at = "" if at_s is None else f" at {span_words(at_s)}"
    return f"{manoeuvre} of step {step}{at}" if manoeuvre else f"step {step}{at}"


def _signed(seconds: int) -> str:
    return f"-{span_words(seconds)}" if seconds < 0 else span_words(seconds)


RULES = (activities, lengths, order, starts_within, windows, inside)
