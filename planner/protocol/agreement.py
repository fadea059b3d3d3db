"""The stop rule `enough`, value by value: one place for timing, record and adherence.

Values are exact decimals as they were written; a negative pressure counts by its magnitude.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from planner.protocol.model import EnoughLine, Manoeuvre

Efforts = Sequence[Mapping[str, Decimal]]


@dataclass(frozen=True, slots=True)
class LineState:
    """One line of the stop rule after some efforts.

    `difference` is the spread of the values that the line judges (for "any": of the closest so
    many), `allowed` what it may be, both in the reading's unit; None while there are too few values.
    """

    line: EnoughLine
    holds: bool
    difference: Decimal | None
    allowed: Decimal | None


@dataclass(frozen=True, slots=True)
class BlockState:
    """Where a block stands: agreed, or at its ceiling, or free to go on. `words` says so to a person."""

    agreed: bool
    at_ceiling: bool
    may_go_on: bool
    lines: tuple[LineState, ...]
    words: str


def ended_after(manoeuvre: Manoeuvre, efforts: Efforts) -> int | None:
    """The number of efforts after which the block ended by agreement, or None if it has not.

    `efforts` holds the acceptable readings of each effort in order; an effort of which nothing is
    acceptable is an empty mapping. Without `enough` a block ends after `at_least` efforts.
    """
    for count in range(1, min(len(efforts), manoeuvre.at_most) + 1):
        if _agrees(manoeuvre, efforts[:count]):
            return count
    return None


def state(manoeuvre: Manoeuvre, efforts: Efforts) -> BlockState:
    """Where the block stands after these efforts; arguments as for `ended_after`."""
    done = len(efforts)
    lines = tuple(line_state(line, efforts) for line in manoeuvre.enough)
    ended = ended_after(manoeuvre, efforts)
    at_ceiling = done >= manoeuvre.at_most
    return BlockState(
        agreed=ended is not None,
        at_ceiling=at_ceiling,
        may_go_on=ended is None and not at_ceiling,
        lines=lines,
        words=_words(manoeuvre, efforts, lines, ended),
    )


def line_state(line: EnoughLine, efforts: Efforts) -> LineState:
    """One line judged on these efforts: for "any", the so many values that fit best."""
    sizes = sorted((abs(effort[line.reading]) for effort in efforts if line.reading in effort), reverse=True)
    count = line.count
    if len(sizes) < count:
        return LineState(line, False, None, None)
    starts = range(1) if line.kind == "largest" else range(len(sizes) - count + 1)
    judged = [(sizes[i] - sizes[i + count - 1], allowed(line, sizes[i])) for i in starts]
    # If any so many agree, then so do the largest of them and its next smaller neighbours.
    difference, most = min(judged, key=lambda pair: pair[0] - pair[1])
    return LineState(line, difference <= most, difference, most)


def allowed(line: EnoughLine, largest: Decimal) -> Decimal:
    """The widest of `within`, in the reading's unit, where `largest` is the largest value judged."""
    return max(width.value * largest / 100 if width.is_percent else width.value for width in line.within)


def acceptable_needed(manoeuvre: Manoeuvre) -> tuple[str, ...]:
    """The readings whose acceptable values count towards `at_least`; empty where every effort counts."""
    return tuple(dict.fromkeys(line.reading for line in manoeuvre.enough))


def _agrees(manoeuvre: Manoeuvre, efforts: Efforts) -> bool:
    if not manoeuvre.enough:
        return len(efforts) >= manoeuvre.at_least
    return all(
        _count(line.reading, efforts) >= manoeuvre.at_least and line_state(line, efforts).holds
        for line in manoeuvre.enough
    )


def _count(reading: str, efforts: Efforts) -> int:
    return sum(reading in effort for effort in efforts)


def _words(manoeuvre: Manoeuvre, efforts: Efforts, lines: tuple[LineState, ...], ended: int | None) -> str:
    done = len(efforts)
    if not manoeuvre.enough:
        left = manoeuvre.at_least - done
        return "All efforts done: finished." if left <= 0 else f"{left} more {_efforts(left)}."
    if ended is not None:
        return f"Close enough after {ended} {_efforts(ended)}: finished."
    if done >= manoeuvre.at_most:
        return "Most efforts reached, still too far apart: finished without agreement."
    left = manoeuvre.at_most - done
    lacks = [manoeuvre.at_least - _count(name, efforts) for name in acceptable_needed(manoeuvre)]
    if max(lacks) > left:
        return f"{left} {_efforts(left)} left at most, too few for agreement."
    if max(lacks) > 0:
        return f"At least {max(lacks)} more acceptable {_efforts(max(lacks))}."
    apart = [_apart(one, manoeuvre) for one in lines if not one.holds]
    return f"{' '.join(apart)} One more effort; {left} left at most."


def _efforts(number: int) -> str:
    return "effort" if number == 1 else "efforts"


def _apart(one: LineState, manoeuvre: Manoeuvre) -> str:
    line = one.line
    if one.difference is None or one.allowed is None:
        return f"{line.reading}: {line.count} acceptable values are needed."
    unit = manoeuvre.readings[line.reading].unit
    which = f"the {line.count} largest" if line.kind == "largest" else f"the closest {line.count}"
    most = f"{plain(one.allowed)} {unit} allowed"
    return f"{line.reading}: {which} are {plain(one.difference)} {unit} apart, {most}."


def plain(number: Decimal) -> str:
    """A decimal without an exponent and without zeros that say nothing."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
