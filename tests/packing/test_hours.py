"""The days on which a visit could be, from an index, against the study asked anew for each visit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from planner.clock import Interval, at_clock, clock_range, seconds_between
from planner.packing.hours import Hours, number_of
from planner.study.model import Study, Visit, Wish
from planner.study.read import read_study

SMALL = read_study(Path(__file__).parents[1] / "data" / "small")
DAYS = sorted(SMALL.open)
ranges = st.sampled_from(["08:00-10:00", "08:00-12:00", "11:00-16:00", "15:30-16:00"])
lines = st.lists(
    st.tuples(
        st.sampled_from(DAYS), ranges, st.sampled_from([None, *{v.kind for v in SMALL.asked["ROW-01"]}])
    ),
    max_size=6,
)


def _coming(written: list[tuple[date, str, str | None]]) -> tuple[tuple[Interval, str | None], ...]:
    found = []
    for day, hours, kind in written:
        span = clock_range(hours)
        found.append(
            (Interval(at_clock(day, span.from_, SMALL.zone), at_clock(day, span.to, SMALL.zone)), kind)
        )
    return tuple(found)


def _asked_anew(study: Study, visit: Visit, least_s: int) -> int:
    """Every half hour of every day tried: all that is written here begins and ends on one."""
    wished = [w.date for w in study.wishes if w.participant == visit.participant and w.date]
    rule = visit.start
    mask = 0
    for day in (d for d in study.open if all(d == on for on in wished)):
        for from_, to in study.may_come(visit, day):
            starts = (from_ + timedelta(minutes=30 * n) for n in range(24))
            kept = (s for s in starts if rule is None or rule.from_ <= s.time() <= rule.to)
            if any(seconds_between(start, to) >= least_s for start in kept):
                mask |= 1 << number_of(day, study)
    return mask


@given(st.lists(lines, min_size=2, max_size=2), st.booleans(), st.none() | st.sampled_from(DAYS))
def test_the_index_says_what_the_study_says(
    written: list[list[tuple[date, str, str | None]]], are_shared: bool, wished: date | None
):
    """Both participants, also where they share one list, as the reader shares those that are the same."""
    first = _coming(written[0])
    available = {"ROW-01": first, "ROW-02": first if are_shared else _coming(written[1])}
    wishes = (Wish("ROW-02", None, wished),) if wished else ()
    study = replace(SMALL, available=available, wishes=wishes)
    hours = Hours(study)
    for least_s in (1800, 5400):
        for visit in (v for visits in study.asked.values() for v in visits):
            assert hours.possible_days(visit, least_s) == _asked_anew(study, visit, least_s)
