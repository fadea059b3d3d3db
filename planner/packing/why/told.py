"""One demand that a person wrote down, in words with its place, and what naming demands shares."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from planner.clock import Interval, duration_words, seconds_between
from planner.faults import Place
from planner.packing.why.case import Case, Drop
from planner.protocol.model import KeyPath

MORE_MINUTES = (15, 30, 60, 120, 240)
Step = tuple[str, Drop]  # one relaxation: what it means in words, and the case with it


@dataclass(frozen=True)
class Demand:
    """One demand: what it says, where, the case without it, and what dropping it would mean in words.

    `easier` are smaller relaxations and `other` those of another kind, the smallest first; `both` are for
    where neither by itself is enough; `larger` goes further than dropping it. `lines` are the demands that
    it is made of, where several lines say it. `only_tried`: its relaxations are told only where trying them
    has placed everybody; without words for `without` dropping it is no way of mending.
    """

    words: str
    place: Place
    drop: Drop
    without: str
    easier: tuple[Step, ...] = ()
    other: tuple[Step, ...] = ()
    both: tuple[Step, ...] = ()
    larger: tuple[Step, ...] = ()
    lines: tuple[Demand, ...] = ()
    only_tried: bool = False

    @property
    def whole(self) -> tuple[Step, ...]:
        """To drop it, and what goes further."""
        return (*(((self.without, self.drop),) if self.without else ()), *self.larger)


def of_lines(lines: Sequence[Demand], words: str, drop: Drop, without: str) -> Iterator[Demand]:
    """The demand that these lines make together, or the only one."""
    if len(lines) == 1:
        yield lines[0]
    elif lines:
        yield Demand(words, lines[0].place, drop, without, lines=tuple(lines))


def of_spans(
    case: Case,
    path: tuple[str, str],
    spans: Sequence[Interval],
    words: str,
    without: str,
    left_out: Callable[[Sequence[Interval]], Drop],
) -> Iterator[Demand]:
    """The spans in which one rig or person is not there, line by line, as far as they touch opening hours.

    `path` names the table and who it is; `left_out` gives the case without some of the spans.
    """
    there = [(number, span) for number, span in enumerate(spans) if bears(case, span)]
    lines = [
        Demand(
            f"{words} {span_words(span)}",
            at(case, *path, number),
            left_out([span]),
            f"{without} {span_words(span)}",
        )
        for number, span in there
    ]
    said = shortened([span_words(span) for _, span in there], "; ")
    yield from of_lines(lines, f"{words} {said}", left_out(spans), without)


def bears(case: Case, span: Interval) -> bool:
    """Whether the span touches any opening hours of the study."""
    return any(span.meets(hours) for its in case.study.open.values() for hours in its)


def shortened(words: Sequence[str], between: str = ", ", most: int = 4) -> str:
    """The first few, and a sign that there are more."""
    return between.join([*words[:most], "…"] if len(words) > most else words)


def at(case: Case, *path: str | int) -> Place:
    """Where a path of keys stands in the study's files; else the first line of it, or its nearest parent."""
    keys: KeyPath = path
    if keys not in case.study.places:
        lines = [p for known, p in case.study.places.items() if known[: len(keys)] == keys]
        if lines:
            return min(lines, key=lambda place: place.line or 0)
    for end in range(len(keys), 0, -1):
        if keys[:end] in case.study.places:
            return case.study.places[keys[:end]]
    return Place("study.yaml")


def changed(**changes: object) -> Drop:
    """The case with these fields of its study replaced."""
    return lambda case: case.with_(**changes)


def span_words(span: Interval) -> str:
    """From when to when, the date once where it is one day."""
    if span.start.date() == span.end.date():
        return f"{span.start:%d %b} {clock_words(span)}"
    return f"{span.start:%d %b} {moment_words(span.start)} to {span.end:%d %b} {moment_words(span.end)}"


def clock_words(span: Interval) -> str:
    """From when to when on one day; how long that is where the clocks change meanwhile."""
    words = f"{moment_words(span.start)}-{moment_words(span.end)}"
    if span.start.utcoffset() == span.end.utcoffset():
        return words
    return f"{words} (clocks change in between: {duration_words(seconds_between(*span))} long)"


def moment_words(moment: datetime) -> str:
    """The clock time, with its seconds where it has any."""
    return f"{moment:%H:%M:%S}" if moment.second else f"{moment:%H:%M}"
