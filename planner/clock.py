"""Durations, clock times, dates and spans: text to values and back; the one door to time zones."""

from __future__ import annotations

import re
from calendar import month_name, monthrange
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from functools import lru_cache
from typing import NamedTuple
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

MOST_S = 366 * 86_400
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_UNITS = {"d": 86_400, "h": 3_600, "min": 60, "s": 1}
_PART = re.compile(r"([0-9]+)[ \u00a0]*([A-Za-z]+)")
_DURATION = re.compile(r"[0-9]+[ \u00a0]*[A-Za-z]+(?:[ \u00a0]+[0-9]+[ \u00a0]*[A-Za-z]+)*")
_MOST_DIGITS = 9  # far more than the longest duration needs in seconds
_SHOWN = 40  # letters of what was written that a message repeats
_CLOCK = re.compile(r"([01][0-9]|2[0-3]):([0-5][0-9])")
_YEAR_FIRST = re.compile(r"([1-9][0-9]{3})[-./ ]([0-9]{1,2})[-./ ]([0-9]{1,2})")
_YEAR_LAST = re.compile(r"([0-9]{1,2})[-./ ]([0-9]{1,2})[-./ ]([1-9][0-9]{3})")
_MOMENT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}([.,][0-9]{1,6})?)?"
    r"(Z|[+-][0-9]{2}:?[0-9]{2}(:[0-9]{2})?)?"
)


def duration_s(text: str) -> int:
    """Whole seconds of a duration such as `1 h 30 min`; ValueError says what is wrong with it."""
    words = text.strip()
    if not _DURATION.fullmatch(words):
        raise ValueError(f"{text!r} is not a duration; write it with its unit, such as '30 s' or '4 min'")
    parts = _PART.findall(words)
    units = [unit for _, unit in parts]
    if unknown := [unit for unit in units if unit not in _UNITS]:
        raise ValueError(f"{text!r} has the unknown unit {unknown[0]!r}; units are d, h, min, s")
    if units != sorted(set(units), key=list(_UNITS).index):
        raise ValueError(f"{text!r} must name each unit once, the largest first, as in '1 h 30 min'")
    is_long = any(len(number) > _MOST_DIGITS for number, _ in parts)
    total_s = 0 if is_long else sum(int(number) * _UNITS[unit] for number, unit in parts)
    if is_long or total_s > MOST_S:
        shown = text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"
        raise ValueError(f"{shown!r} is longer than 366 d, and no duration may be")
    return total_s


def duration_words(seconds: int) -> str:
    """The duration as a person writes it, such as `1 h 30 min`; reads back to the same seconds."""
    if seconds == 0:
        return "0 s"
    words, left = [], abs(seconds)
    for unit, size in _UNITS.items():
        if number := left // size:
            words.append(f"{number} {unit}")
            left -= number * size
    return ("-" if seconds < 0 else "") + " ".join(words)


class ClockRange(NamedTuple):
    """From one clock time to a later one of the same day."""

    from_: time
    to: time

    def __str__(self) -> str:
        return f"{self.from_:%H:%M}-{self.to:%H:%M}"


@lru_cache(maxsize=2048)  # a table of many lines repeats its times
def clock_time(text: str) -> time:
    """The time of day that `text` writes as HH:MM; ValueError says what is wrong with it."""
    if not (found := _CLOCK.fullmatch(text.strip())):
        padded = text.strip().zfill(5)  # 9:00, as spreadsheets copy it
        example = padded if _CLOCK.fullmatch(padded) else "08:30"
        raise ValueError(f"{text!r} is not a clock time; write it as {example!r}")
    return time(int(found[1]), int(found[2]))


def clock_range(text: str) -> ClockRange:
    """The range that `text` writes as HH:MM-HH:MM; ValueError says what is wrong with it."""
    parts = text.split("-")
    if len(parts) != 2:
        raise ValueError(f"{text!r} is not a clock range; write it as '08:00-17:00'")
    found = ClockRange(clock_time(parts[0]), clock_time(parts[1]))
    if found.from_ >= found.to:
        raise ValueError(f"{text!r} ends before it begins; a range lies within one day")
    return found


def day(text: str) -> date:
    """The date that `text` writes as YYYY-MM-DD; ValueError says what is wrong with it."""
    words = text.strip()
    try:
        if len(words) == 10:
            return date.fromisoformat(words)
    except ValueError:
        pass
    raise ValueError(f"{text!r} is not a date; {_mended_date(words)}")


def _mended_date(words: str) -> str:
    """What to do about that date: how long its month is, or how it is written; nothing is guessed."""
    if found := _YEAR_FIRST.fullmatch(words):
        year, month, on = map(int, found.groups())
        if not 1 <= month <= 12:
            return f"there is no month {month}; write the year, then the month, then the day"
        last = monthrange(year, month)[1]
        if not 1 <= on <= last:
            return f"{month_name[month]} {year} has {last} days"
        return f"write it as '{year}-{month:02}-{on:02}'"
    if found := _YEAR_LAST.fullmatch(words):
        lesser, greater = sorted(map(int, found.groups()[:2]))
        if greater > 12 or lesser == greater:  # else either could be the month
            return _mended_date(f"{found[3]}-{lesser}-{greater}")
    return "write the year, then the month, then the day: '2027-03-01' is 1 March 2027"


def days(text: str) -> frozenset[date] | frozenset[int]:
    """The dates of a date or span (`2027-03-01..2027-03-05`), or weekday numbers (Monday 0) of `mon-fri`.

    `mon wed` names single days. ValueError says what is wrong with the text.
    """
    words = text.strip().lower()
    if words[:1].isdigit():
        first, _, last = words.partition("..")
        start = day(first)
        end = day(last) if last else start
        if end < start or (end - start).days > 3660:
            raise ValueError(f"{text!r} ends before it begins, or is longer than ten years")
        return frozenset(start + timedelta(days=n) for n in range((end - start).days + 1))
    return frozenset(number for part in words.split() or [words] for number in _weekdays(part, text))


def _weekdays(part: str, text: str) -> Iterable[int]:
    first, dash, last = part.partition("-")
    if first not in WEEKDAYS or (dash and last not in WEEKDAYS):
        raise ValueError(f"{text!r} names no days; write 'mon-fri', 'mon wed', a date or a span of dates")
    start = WEEKDAYS.index(first)
    end = WEEKDAYS.index(last) if dash else start
    if end < start:
        raise ValueError(f"{text!r} must name weekdays from Monday to Sunday, as in 'mon-fri'")
    return range(start, end + 1)


def zone(name: str) -> ZoneInfo:
    """The time zone of that IANA name; ValueError where there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError(f"{name!r} is not a time zone; write it as 'Europe/Oslo'") from error


class Interval(NamedTuple):
    """From one zone-aware instant to a later one; the end is not part of it."""

    start: datetime
    end: datetime

    def holds(self, other: Interval) -> bool:
        """Whether `other` lies wholly inside."""
        return self.start <= other.start and other.end <= self.end

    def meets(self, other: Interval) -> bool:
        """Whether the two share some time."""
        return self.start < other.end and other.start < self.end

    @property
    def length_s(self) -> int:
        """Real seconds, also over a change of clocks."""
        return seconds_between(self.start, self.end)


def at_clock(on: date, clock: time, tz: tzinfo) -> datetime:
    """That local clock time as an instant; a time that occurs twice means the first (RFC 5545, 3.3.5)."""
    return datetime.combine(on, clock, tzinfo=tz)


def skipped(moment: datetime) -> str:
    """Why the clocks of its zone never show that time, in words; empty where they do."""
    shown = datetime.fromtimestamp(moment.timestamp(), tz=moment.tzinfo)
    if shown.replace(tzinfo=None) == moment.replace(tzinfo=None):
        return ""
    forward = f"clocks are put forward over it, and show {shown:%H:%M} then"
    return f"{moment:%Y-%m-%d} has no {moment:%H:%M}: {forward}"


def seconds_between(start: datetime, end: datetime) -> int:
    """Real seconds from start to end: Python subtracts wall clocks where both zones are the same object."""
    return round(end.timestamp() - start.timestamp())


def later(start: datetime, seconds: int) -> datetime:
    """The instant that many real seconds later, in the same zone."""
    return datetime.fromtimestamp(start.timestamp() + seconds, tz=start.tzinfo)


def local_moment(text: str, tz: tzinfo) -> datetime:
    """A date-time (`2027-03-01T08:30`, seconds optional) in the zone; an offset, where written, is kept to.

    ValueError says what is wrong with the text: a date alone is no midnight.
    """
    words, wrong = text.strip(), f"{text!r} is not a date-time; write it as '2027-03-01T08:30'"
    if not _MOMENT.fullmatch(words):
        raise ValueError(wrong)
    try:
        moment = datetime.fromisoformat(words)
    except ValueError as error:
        raise ValueError(wrong) from error
    if moment.tzinfo is None:
        return moment.replace(tzinfo=tz)
    return moment.astimezone(tz)


def without(intervals: Sequence[Interval], gaps: Sequence[Interval]) -> tuple[Interval, ...]:
    """The intervals with the gaps cut out, in order of time."""
    left = sorted(intervals)
    for gap in gaps:
        pieces: list[Interval] = []
        for piece in left:
            if not piece.meets(gap):
                pieces.append(piece)
                continue
            if piece.start < gap.start:
                pieces.append(Interval(piece.start, gap.start))
            if gap.end < piece.end:
                pieces.append(Interval(gap.end, piece.end))
        left = pieces
    return tuple(left)


@dataclass(frozen=True, slots=True)
class DaySpan:
    """Whole calendar days, at least and at most (None: no upper end)."""

    at_least: int
    at_most: int | None = None
