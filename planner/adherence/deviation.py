"""Each way in which one visit differed from what was asked, with its size."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

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
from planner.adherence.recorded import VisitRecord, local
from planner.adherence.visit import VisitFound
from planner.clock import duration_words

OFF = (Kept.EARLY, Kept.LATE, Kept.NEVER)


def visit_deviations(
    wanted: Asked, found: VisitFound, record: VisitRecord, line: VisitLine
) -> list[Deviation]:
    """All deviations of one visit: time points, efforts, rests, stop rule, order, after the stop."""
    about = _About(wanted, record, line)
    return [
        *about.points(found),
        *about.efforts(found),
        *about.rests(found),
        *about.stop_rules(found),
        *about.order(found),
        *about.after_the_stop(found),
    ]


def place_words(step: str, at_s: int | None, manoeuvre: str | None) -> str:
    """`after, 10 min, fvc`."""
    parts = [step, None if at_s is None else duration_words(at_s), manoeuvre]
    return ", ".join(part for part in parts if part)


class _About:
    """What every deviation of the visit carries."""

    def __init__(self, wanted: Asked, record: VisitRecord, line: VisitLine) -> None:
        self.wanted, self.record, self.line = wanted, record, line

    def _important(self, label: Label) -> bool:
        block = self.wanted.blocks.get(label)
        return bool(block and block.important)

    def _of_block(
        self,
        kind: str,
        label: Label,
        words: str,
        size: int | None,
        unit: str,
        effort: int | None = None,
    ) -> Deviation:
        efforts = [timed.effort for timed in self.record.blocks.get(label, [])]
        chosen = [e for e in efforts if e.number == effort] or efforts[:1]
        when = (
            local(chosen[0].started, self.line.happened.tzinfo)
            if chosen and self.line.happened and self.line.happened.tzinfo
            else None
        )
        note = chosen[0].note if chosen else ""
        return Deviation(
            kind, self.line.key, *label, effort, when, size, unit, self._important(label), words, note
        )

    def points(self, found: VisitFound) -> Iterator[Deviation]:
        """Time points outside their window, or never measured."""
        for point in found.points:
            if point.kept in OFF:
                yield self._point(point)

    def _point(self, point: PointLine) -> Deviation:
        window = f"{duration_words(point.low_s)} to {duration_words(point.high_s)}"
        edge = "before" if point.side == "before" else "after"
        if point.happened_after_s is None:
            words = f"never measured; due {window} {edge} {point.anchor}"
        else:
            off = duration_words(abs(point.off_s or 0))
            did = duration_words(point.happened_after_s)
            words = f"{did} {edge} {point.anchor}: {off} too {point.kept}; on time {window}"
        note = self._note(point)
        return Deviation(
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
            words,
            note,
        )

    def _note(self, point: PointLine) -> str:
        efforts = self.record.blocks.get(Label(point.step, point.at_s, point.manoeuvre or ""), [])
        return efforts[0].effort.note if efforts else ""

    def efforts(self, found: VisitFound) -> Iterator[Deviation]:
        """Missing and extra efforts, one deviation a block."""
        for fate in (Fate.MISSING, Fate.EXTRA):
            by_label: dict[Label, list[EffortLine]] = {}
            for line in found.efforts:
                if line.fate is fate:
                    by_label.setdefault(Label(line.step, line.at_s, line.manoeuvre), []).append(line)
            for label, lines in by_label.items():
                yield self._of_block(
                    f"{fate} efforts",
                    label,
                    self._effort_words(fate, label, lines),
                    -len(lines) if fate is Fate.MISSING else len(lines),
                    "efforts",
                    lines[0].effort if fate is Fate.EXTRA else None,
                )

    def _effort_words(self, fate: Fate, label: Label, lines: list[EffortLine]) -> str:
        block = self.wanted.blocks.get(label)
        if block is None:
            return f"{len(lines)} efforts of a block that the protocol does not have"
        if fate is Fate.EXTRA:
            return f"{len(lines)} beyond {block.manoeuvre.at_most}, the most"
        return f"{len(lines)} acceptable efforts short of {block.manoeuvre.at_least}, the least"

    def rests(self, found: VisitFound) -> Iterator[Deviation]:
        """Rests cut short, each by how much."""
        for rest in found.rests:
            if rest.rest_s < rest.asked_s:
                label = Label(rest.step, rest.at_s, rest.manoeuvre)
                rested, least = duration_words(rest.rest_s), duration_words(rest.asked_s)
                words = f"rest of {rested} before effort {rest.effort}; at least {least} asked for"
                yield self._of_block(
                    "rest cut short", label, words, rest.rest_s - rest.asked_s, "s", rest.effort
                )

    def stop_rules(self, found: VisitFound) -> Iterator[Deviation]:
        """Blocks that ended before their rule held, or went on after it did."""
        for block in found.blocks:
            label = Label(block.step, block.at_s, block.manoeuvre)
            if block.ended is Ended.TOO_LATE and block.held_after is not None:
                more = block.efforts - block.held_after
                words = f"{more} efforts after the efforts were close enough at effort {block.held_after}"
                yield self._of_block("went on too long", label, words, more, "efforts")
            elif block.ended is Ended.TOO_EARLY:
                words = f"ended after {block.efforts} efforts, still too far apart"
                yield self._of_block("ended too early", label, words, None, "efforts")

    def order(self, found: VisitFound) -> Iterator[Deviation]:
        """Blocks out of their order or taken up again; efforts of a block out of order."""
        if found.order is None:
            return
        for pair in found.order.swapped:
            places = _place(found, pair.recorded) - pair.planned
            words = "done out of its order in the visit"
            yield self._of_block("order of blocks", found.runs[pair.recorded], words, places, "places")
        for place in found.order.repeated:
            words = "taken up again after another block"
            yield self._of_block("block repeated", found.runs[place], words, None, "")
        for label, efforts in self.record.blocks.items():
            numbers = [timed.effort.number for timed in efforts]
            wrong = sum(a > b for a, b in pairwise(numbers))
            if wrong:
                words = "efforts done in the order " + ", ".join(map(str, numbers))
                yield self._of_block("order of efforts", label, words, wrong, "places")

    def after_the_stop(self, found: VisitFound) -> Iterator[Deviation]:
        """Efforts recorded after the visit was stopped."""
        if self.record.stopped is None:
            return
        stopped = self.record.stopped.at.timestamp()
        for label, efforts in self.record.blocks.items():
            for began, effort in efforts:
                late_s = round(began - stopped)
                if late_s > 0:
                    words = (
                        f"effort {effort.number} began {duration_words(late_s)} after the visit was stopped"
                    )
                    yield self._of_block("after the stop", label, words, late_s, "s", effort.number)


def _place(found: VisitFound, recorded: int) -> int:
    """The place of that run among the blocks, each counted where it was first done."""
    first: list[Label] = []
    for label in found.runs[: recorded + 1]:
        if label not in first:
            first.append(label)
    return len(first) - 1
