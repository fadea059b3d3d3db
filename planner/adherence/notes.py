"""What in the record a person should look at: times that cannot be, blocks nobody asked for, half a visit."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from planner.adherence.asked import Asked
from planner.adherence.deviation import place_words
from planner.adherence.model import Kept, Note, VisitLine
from planner.adherence.recorded import VisitRecord, at
from planner.adherence.visit import VisitFound
from planner.clock import duration_words


def record_notes(wanted: Asked, found: VisitFound, record: VisitRecord, line: VisitLine) -> list[Note]:
    """Everything of one visit that looks wrong or incomplete; all of it is counted all the same."""
    return [
        *_overlaps(found, line),
        *_marks(record, line),
        *_unknown(wanted, record, line),
        *_other_dates(record, line),
        *_changed_clocks(record, line),
        *_no_anchor(found, line),
        *_half(wanted, record, line),
    ]


def _overlaps(found: VisitFound, line: VisitLine) -> Iterator[Note]:
    for rest in found.rests:
        if rest.rest_s < 0:
            where = place_words(rest.step, rest.at_s, rest.manoeuvre)
            by = duration_words(-rest.rest_s)
            words = f"{where}: effort {rest.effort} begins {by} before the one before it can have ended"
            yield Note("impossible time", line.key, words)


def _marks(record: VisitRecord, line: VisitLine) -> Iterator[Note]:
    for (step, at_s, what), mark in record.marks.items():
        start = record.mark(step, at_s, "start")
        if what == "end" and start and mark.at.timestamp() < start.timestamp():
            words = f"{place_words(step, at_s, None)}: recorded to end before it starts"
            yield Note("impossible time", line.key, words)


def _unknown(wanted: Asked, record: VisitRecord, line: VisitLine) -> Iterator[Note]:
    for label, efforts in record.blocks.items():
        if label not in wanted.blocks:
            where = place_words(*label)
            words = f"{where}: the protocol has no such block; its {len(efforts)} efforts count as extra"
            yield Note("unknown block", line.key, words)
    for step, at_s, _ in record.marks:
        if step not in wanted.steps:
            yield Note("unknown step", line.key, f"{place_words(step, at_s, None)}: no such step; not judged")


def _other_dates(record: VisitRecord, line: VisitLine) -> Iterator[Note]:
    """Efforts before the planned day, or after midnight of the day on which the visit began."""
    if line.happened is None:
        return
    opens = _midnight(line.planned, 0) if line.planned else 0.0
    closes = _midnight(line.happened, 1)
    found: dict[str, list[str]] = {}
    for label, efforts in record.blocks.items():
        for began, effort in efforts:
            kind = "before the visit" if began < opens else "after midnight" if began >= closes else None
            if kind:
                found.setdefault(kind, []).append(f"{place_words(*label)}, effort {effort.number}")
    for kind, places in found.items():
        when = "before the planned day" if kind == "before the visit" else "after midnight of the visit's day"
        yield Note(kind, line.key, f"{len(places)} efforts {when}, the first {places[0]}")


def _midnight(moment: datetime, days: int) -> float:
    """Seconds of the epoch of the midnight that begins that local day, or one so many days later."""
    begins = moment.replace(hour=0, minute=0, second=0, microsecond=0, fold=0) + timedelta(days=days)
    return begins.timestamp()


def _changed_clocks(record: VisitRecord, line: VisitLine) -> Iterator[Note]:
    """A visit during which the local clock was put on or back."""
    if line.happened is None or not record.blocks:
        return
    last = max(efforts[-1].began for efforts in record.blocks.values())
    if at(last, line.happened.tzinfo).utcoffset() != line.happened.utcoffset():
        words = "the clocks changed during this visit; lengths are real seconds"
        yield Note("change of clocks", line.key, words)


def _no_anchor(found: VisitFound, line: VisitLine) -> Iterator[Note]:
    anchors = {(p.anchored, p.anchor) for p in found.points if p.kept is Kept.NO_ANCHOR}
    for anchored, anchor in sorted(anchors):
        words = f"the {anchored} of {anchor} is not recorded; what is due from it is not judged"
        yield Note("anchor not recorded", line.key, words)


def _half(wanted: Asked, record: VisitRecord, line: VisitLine) -> Iterator[Note]:
    """A visit whose record breaks off: nothing after some block, though nobody wrote that it was stopped."""
    if line.stopped is not None:
        return
    labels = list(wanted.blocks)
    last = max((labels.index(label) for label in record.blocks if label in wanted.blocks), default=-1)
    lacking = labels[last + 1 :]
    if lacking and all(label not in record.blocks for label in lacking):
        after = f"“{place_words(*labels[last])}”" if last >= 0 else "its beginning"
        none = "1 measure has none" if len(lacking) == 1 else f"{len(lacking)} measures have none"
        words = f"the record breaks off after {after}: {none}, and no stop is recorded"
        yield Note("half a visit", line.key, words)
