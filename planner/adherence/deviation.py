"""Each way in which one visit differed from what was asked, with its size."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from planner.adherence.asked import Asked, Label
from planner.adherence.model import (
    Deviation,
    EffortLine,
    Ended,
    Fate,
    Kept,
    PointLine,
    VisitLine,
)
from planner.adherence.recorded import VisitRecord
from planner.adherence.stop_rule import acceptable_values
from planner.adherence.visit import VisitFound
from planner.clock import duration_words
from planner.protocol.agreement import LineState, state

OFF = (Kept.EARLY, Kept.LATE, Kept.NEVER)


class Judged(NamedTuple):
    """One visit with all that was found of it."""

    wanted: Asked
    record: VisitRecord
    line: VisitLine
    found: VisitFound


class Size(NamedTuple):
    """How much, with its sign, and of what; `amount` None where there is no measure of it."""

    amount: int | None
    unit: str


def block_deviation(
    visit: Judged, kind: str, label: Label, words: str, size: Size, effort: int | None = None
) -> Deviation:
    """A deviation of a block, at the time and with the note of that effort, else of the block's first."""
    efforts = [timed.effort for timed in visit.record.blocks.get(label, [])]
    at = next((e for e in efforts if e.number == effort), efforts[0] if efforts else None)
    block = visit.wanted.blocks.get(label)
    zone = visit.line.happened.tzinfo if visit.line.happened else None
    return Deviation(
        kind,
        visit.line.key,
        *label,
        effort,
        at.started.astimezone(zone) if at else None,
        size.amount,
        size.unit,
        bool(block and block.important),
        words,
        at.note if at else "",
    )


def place_words(step: str, at_s: int | None, manoeuvre: str | None) -> str:
    """`after, 10 min, fvc`."""
    parts = [step, None if at_s is None else duration_words(at_s), manoeuvre]
    return ", ".join(part for part in parts if part)


def of_points(visit: Judged) -> Iterator[Deviation]:
    """Time points outside their window, or never measured."""
    for point in visit.found.points:
        if point.kept in OFF:
            efforts = visit.record.blocks.get(Label(point.step, point.at_s, point.manoeuvre or ""), [])
            yield Deviation(
                f"time point {point.kept}",
                point.key,
                point.step,
                point.at_s,
                point.manoeuvre,
                None,
                point.happened,
                point.off_s,
                "s",
                point.important,
                _point_words(point),
                efforts[0].effort.note if efforts else "",
            )


def _point_words(point: PointLine) -> str:
    window = f"{duration_words(point.low_s)} to {duration_words(point.high_s)}"
    edge = "before" if point.side == "before" else "after"
    if point.happened_after_s is None:
        return f"never measured; due {window} {edge} {point.anchor}"
    did, off = duration_words(point.happened_after_s), duration_words(abs(point.off_s or 0))
    return f"{did} {edge} {point.anchor}: {off} too {point.kept}; due {window}"


def of_efforts(visit: Judged) -> Iterator[Deviation]:
    """Missing and extra efforts, one deviation a block."""
    for fate in (Fate.MISSING, Fate.EXTRA):
        by_label: dict[Label, list[EffortLine]] = {}
        for line in visit.found.efforts:
            if line.fate is fate:
                by_label.setdefault(Label(line.step, line.at_s, line.manoeuvre), []).append(line)
        for label, lines in by_label.items():
            count = len(lines)
            words = _effort_words(visit.wanted, fate, label, count)
            size = Size(-count if fate is Fate.MISSING else count, "efforts")
            effort = lines[0].effort if fate is Fate.EXTRA else None
            yield block_deviation(visit, f"{fate} efforts", label, words, size, effort)


def _effort_words(wanted: Asked, fate: Fate, label: Label, count: int) -> str:
    block = wanted.blocks.get(label)
    if block is None:
        return f"{count} efforts of a block that the protocol does not have"
    if fate is Fate.EXTRA:
        return f"{count} beyond {block.manoeuvre.at_most}, the most"
    return f"{count} acceptable efforts short of {block.manoeuvre.at_least}, the least"


def of_rests(visit: Judged) -> Iterator[Deviation]:
    """Rests cut short, each by how much."""
    for rest in visit.found.rests:
        if rest.rest_s < rest.asked_s:
            rested, least = duration_words(rest.rest_s), duration_words(rest.asked_s)
            words = f"rest of {rested} before effort {rest.effort}; at least {least} asked for"
            label = Label(rest.step, rest.at_s, rest.manoeuvre)
            size = Size(rest.rest_s - rest.asked_s, "s")
            yield block_deviation(visit, "rest cut short", label, words, size, rest.effort)


def of_stop_rules(visit: Judged) -> Iterator[Deviation]:
    """Blocks that ended before their rule held, or went on after it did."""
    for block in visit.found.blocks:
        label = Label(block.step, block.at_s, block.manoeuvre)
        if block.ended is Ended.TOO_LATE and block.held_after is not None:
            more = block.efforts - block.held_after
            words = f"{more} efforts after they were close enough at effort {block.held_after}"
            yield block_deviation(visit, "went on too long", label, words, Size(more, "efforts"))
        elif block.ended is Ended.TOO_EARLY:
            yield _too_early(visit, label, block.efforts)


def _too_early(visit: Judged, label: Label, done: int) -> Deviation:
    """A block that ended while it was neither close enough nor at its most; the size is what was left."""
    manoeuvre = visit.wanted.blocks[label].manoeuvre
    efforts = [timed.effort for timed in visit.record.blocks[label]]
    lines = state(manoeuvre, acceptable_values(efforts)).lines
    units = {reading.name: reading.unit for reading in manoeuvre.readings.values()}
    apart = [_apart(line, units.get(line.line.reading, "")) for line in lines if not line.holds]
    left = manoeuvre.at_most - done
    words = f"ended after {done} efforts, still too far apart{_listed(apart)}; {left} more were allowed"
    return block_deviation(visit, "ended too early", label, words, Size(-left, "efforts"))


def _listed(parts: list[str]) -> str:
    return f" ({'; '.join(parts)})" if parts else ""


def _apart(line: LineState, unit: str) -> str:
    reading = line.line.reading
    if line.difference is None or line.allowed is None:
        return f"{reading}: too few acceptable efforts"
    return f"{reading}: {line.difference:f} {unit}, within {line.allowed.normalize():f} {unit} asked for"
