"""A VTIMEZONE for the plan's own years: short, and read alike by every calendar program.

Rules for all times to come, or long lists of changes in one line, are what some programs misread.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, tzinfo
from functools import cache

import icalendar

_HOUR_S = 3600


def time_zone(zone: tzinfo, first_year: int, last_year: int) -> icalendar.Timezone:
    """The zone's offsets from the start of the first year to the end of the last (RFC 5545, 3.6.5)."""
    found = icalendar.Timezone()
    found.add("tzid", str(zone))
    start = int(datetime(first_year, 1, 1, tzinfo=UTC).timestamp()) - 86_400
    end = int(datetime(last_year + 1, 1, 1, tzinfo=UTC).timestamp()) + 86_400
    found.add_component(_part(start, _offset(start, zone), zone))
    for change in _all_changes(start, end, zone):
        found.add_component(_part(change, _offset(change - 1, zone), zone))
    return found


def _at(stamp: int, zone: tzinfo) -> datetime:
    return datetime.fromtimestamp(stamp, tz=zone)


def _offset(stamp: int, zone: tzinfo) -> timedelta:
    offset = _at(stamp, zone).utcoffset()
    assert offset is not None
    return offset


@cache
def _all_changes(start: int, end: int, zone: tzinfo) -> tuple[int, ...]:
    return tuple(_changes(start, end, zone))


def _changes(start: int, end: int, zone: tzinfo) -> Iterator[int]:
    """The first second of each new offset; no zone of our years changes twice within an hour."""
    for stamp in range(start, end, _HOUR_S):
        if _offset(stamp, zone) == _offset(stamp + _HOUR_S, zone):
            continue
        low, high = stamp, stamp + _HOUR_S
        while high - low > 1:
            middle = (low + high) // 2
            if _offset(middle, zone) == _offset(stamp, zone):
                low = middle
            else:
                high = middle
        yield high


def _part(stamp: int, before: timedelta, zone: tzinfo) -> icalendar.Component:
    """The part that begins at this instant; its start is written in the offset that holds until then."""
    moment = _at(stamp, zone)
    part = icalendar.TimezoneDaylight() if moment.dst() else icalendar.TimezoneStandard()
    part.add("dtstart", datetime.fromtimestamp(stamp, tz=UTC).replace(tzinfo=None) + before)
    part.add("tzoffsetfrom", before)
    part.add("tzoffsetto", _offset(stamp, zone))
    part.add("tzname", moment.tzname() or "")
    return part
