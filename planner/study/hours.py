"""Weekday and dated lines resolved to instants; a dated line replaces that day's weekday lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo
from functools import lru_cache
from itertools import pairwise

from planner.clock import ClockRange, Interval, at_clock, days, seconds_between

parse_days = lru_cache(maxsize=4096)(days)  # a table of 10 000 people says `mon-fri` 10 000 times


@dataclass(frozen=True, slots=True)
class Line:
    """A written line: on these days, this range of clock times. `number` says which one it is."""

    days: frozenset[date] | frozenset[int]
    range: ClockRange
    number: int = 0

    @property
    def is_dated(self) -> bool:
        """Whether the line names dates, not weekdays."""
        return any(isinstance(on, date) for on in self.days)


def dates_between(first: date, last: date) -> tuple[date, ...]:
    """Every date from the first to the last."""
    return tuple(first + timedelta(days=number) for number in range((last - first).days + 1))


@lru_cache(maxsize=8192)  # many people come on the same day at the same hours: one interval for all
def interval_on(on: date, range_: ClockRange, zone: tzinfo) -> Interval | None:
    """The range on that date; None where a change of clocks leaves nothing of it."""
    found = Interval(at_clock(on, range_.from_, zone), at_clock(on, range_.to, zone))
    return found if seconds_between(*found) > 0 else None


def resolve(
    lines: Sequence[Line], dates: Iterable[date], zone: tzinfo
) -> dict[date, tuple[tuple[Interval, Line], ...]]:
    """The intervals of every date that has any, each with the line that it comes from, by start.

    The lines that name the date hold, otherwise those that name its weekday.
    """
    found: dict[date, tuple[tuple[Interval, Line], ...]] = {}
    by_day: dict[date | int, list[Line]] = {}  # looked up, not searched: tables are long
    for line in lines:
        for day in line.days:
            by_day.setdefault(day, []).append(line)
    for on in dates:
        here = by_day.get(on) or by_day.get(on.weekday(), [])
        pairs = [(interval_on(on, line.range, zone), line) for line in here]
        if kept := [(interval, line) for interval, line in pairs if interval]:
            found[on] = tuple(sorted(kept, key=lambda pair: pair[0].start.timestamp()))
    return found


def overlap(pairs: Sequence[tuple[Interval, Line]]) -> tuple[Line, Line] | None:
    """The first two lines of a date whose intervals share some time, or None; `pairs` are by start."""
    for (first, line), (second, other) in pairwise(pairs):
        if first.meets(second):
            return line, other
    return None


def joined(intervals: Iterable[Interval]) -> tuple[Interval, ...]:
    """The same time with touching intervals made one: work goes on over the border of two shifts."""
    found: list[Interval] = []
    for interval in sorted(intervals, key=lambda one: one.start.timestamp()):
        if found and found[-1].end >= interval.start:
            found[-1] = Interval(found[-1].start, max(found[-1].end, interval.end))
        else:
            found.append(interval)
    return tuple(found)
