"""Warnings about shifts: long ones without a break, short nights, long weeks.

The limits are those of Directive 2003/88/EC (from memory); local rules decide.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date
from itertools import pairwise

from planner.clock import seconds_between
from planner.faults import Faults, Place
from planner.study.model import Person

MOST_WITHOUT_BREAK_S = 6 * 3600
LEAST_BETWEEN_SHIFTS_S = 11 * 3600
MOST_A_WEEK_S = 48 * 3600
_HINT = "Follow your local rules."


def warn_of_working_time(
    people: tuple[Person, ...], places: Mapping[tuple[str | int, ...], Place], faults: Faults
) -> None:
    """A warning for each person and kind of excess, at the first line that shows it."""
    for person in people:
        told: set[str] = set()
        for on, kind, words in _excesses(person):
            if kind not in told:
                told.add(kind)
                place = places.get(("shifts", person.id, on.isoformat()), Place("shifts"))
                faults.warn(place, kind, f"{person.id}, {on}: {words}", _HINT)


def _excesses(person: Person) -> Iterator[tuple[date, str, str]]:
    """(date, kind, words) of whatever goes beyond a limit."""
    weeks: dict[tuple[int, int], int] = defaultdict(int)
    for on, spans in person.shifts.items():
        for span in spans:
            has_break = any(span.holds(one) for one in person.breaks.get(on, ()))
            if span.length_s > MOST_WITHOUT_BREAK_S and not has_break:
                words = f"a shift of {_hours(span.length_s)} has no break; over 6 h there is one"
                yield on, "no-break", words
        year, week, _ = on.isocalendar()
        before = weeks[year, week]
        weeks[year, week] += sum(span.length_s for span in person.works.get(on, ()))
        if before <= MOST_A_WEEK_S < weeks[year, week]:
            yield on, "long-week", f"more than 48 h of work in week {week}"
    days = sorted(person.shifts)
    for earlier, later in pairwise(days):
        night = seconds_between(person.shifts[earlier][-1].end, person.shifts[later][0].start)
        if night < LEAST_BETWEEN_SHIFTS_S:
            yield later, "short-night", f"only {_hours(night)} between two shifts; 11 h are asked for"


def _hours(seconds: int) -> str:
    hours, left = divmod(seconds, 3600)
    return f"{hours} h {left // 60} min" if left else f"{hours} h"
