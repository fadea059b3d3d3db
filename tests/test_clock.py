"""Durations, clock times, dates and changes of clocks."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.clock import (
    MOST_S,
    Interval,
    at_clock,
    clock_range,
    clock_time,
    day,
    days,
    duration_s,
    duration_words,
    later,
    local_moment,
    seconds_between,
    without,
    zone,
)

HALIFAX = zone("America/Halifax")
NEW_YORK = zone("America/New_York")


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("30 s", 30),
        ("4 min", 240),
        ("1 h 30 min", 5400),
        ("7 d", 604_800),
        ("0 s", 0),
        ("366 d", MOST_S),
        ("90 min", 5400),
        ("2min", 120),
        ("1 d 1 h 1 min 1 s", 90_061),
        ("1\u00a0min", 60),
    ],
)
def test_a_duration_is_whole_seconds(text: str, seconds: int):
    assert duration_s(text) == seconds


@pytest.mark.parametrize(
    "text",
    [
        "",
        "30",
        "5:00",
        "1.5 min",
        "-30 s",
        "+30 s",
        "30 sec",
        "2 m",
        "4 MIN",
        "1 w",
        "367 d",
        "366 d 1 s",
        "30 s 1 min",
        "1 min 2 min",
        "PT30S",
        "half an hour",
        "min",
        "1e3 s",
        "३ s",
        "1 min,30 s",
        "9999999999 s",
    ],
)
def test_what_is_no_duration_is_refused(text: str):
    """YAML 1.1 would read 5:00 as 300; other readers take `2 m` as minutes and `30` as seconds."""
    with pytest.raises(ValueError):  # noqa: PT011 - each case has words of its own
        duration_s(text)


def test_a_duration_beyond_all_measure_is_told_the_longest():
    for text in ("99999999999999999999 d", "1 h 9999999999 min", "367 d"):
        with pytest.raises(ValueError, match=f"'{text}' is longer than 366 d"):
            duration_s(text)
    with pytest.raises(ValueError, match="longer than 366 d") as told:
        duration_s("9" * 100_000 + " d")
    assert len(str(told.value)) < 100


@given(st.integers(min_value=0, max_value=MOST_S))
def test_a_duration_reads_back_what_it_writes(seconds: int):
    assert duration_s(duration_words(seconds)) == seconds


def test_clock_times_and_ranges():
    assert clock_time("08:30") == time(8, 30)
    assert clock_range("08:00-17:00") == (time(8), time(17))
    assert str(clock_range("07:30-11:00")) == "07:30-11:00"


def test_a_clock_time_as_spreadsheets_copy_it_is_told_in_full():
    with pytest.raises(ValueError, match="write it as '09:15'"):
        clock_time("9:15")


@pytest.mark.parametrize("text", ["8:30", "24:00", "08:60", "0830", "08:30:00", "", "noon"])
def test_what_is_no_clock_time_is_refused(text: str):
    with pytest.raises(ValueError, match="not a clock time"):
        clock_time(text)


@pytest.mark.parametrize("text", ["08:00", "17:00-08:00", "08:00-08:00", "22:00-02:00-03:00", "08:00..17:00"])
def test_a_range_lies_within_one_day(text: str):
    with pytest.raises(ValueError, match=r"range|ends before"):
        clock_range(text)


def test_days_are_dates_spans_or_weekdays():
    assert days("2027-03-01") == {date(2027, 3, 1)}
    assert days("2027-02-27..2027-03-02") == {date(2027, 2, 27) + timedelta(days=n) for n in range(4)}
    assert days("mon-fri") == {0, 1, 2, 3, 4}
    assert days("mon wed") == {0, 2}
    assert days("Mon-Tue sat") == {0, 1, 5}


@pytest.mark.parametrize(
    "text",
    ["", "fri-mon", "monday", "2027-02-30", "2027-03-05..2027-03-01", "1.3.2027", "mon,wed", "20270301"],
)
def test_what_names_no_days_is_refused(text: str):
    with pytest.raises(ValueError):  # noqa: PT011 - each case has words of its own
        days(text)


def test_a_leap_day_exists_in_leap_years_only():
    assert day("2028-02-29") == date(2028, 2, 29)
    with pytest.raises(ValueError, match="not a date"):
        day("2027-02-29")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2027-02-30", "February 2027 has 28 days"),
        ("2028-02-30", "February 2028 has 29 days"),
        ("2027-06-00", "June 2027 has 30 days"),
        ("2027-13-01", "there is no month 13"),
        ("2027-3-1", "write it as '2027-03-01'"),
        ("2027/03/01", "write it as '2027-03-01'"),
        ("15.03.2027", "write it as '2027-03-15'"),
        ("3/15/2027", "write it as '2027-03-15'"),
        ("30.2.2027", "February 2027 has 28 days"),
        ("04.03.2027", "'2027-03-01' is 1 March 2027"),  # 4 March or 3 April: not guessed
        ("next week", "write the year, then the month, then the day"),
        ("9" * 5000, "write the year, then the month, then the day"),
    ],
)
def test_a_wrong_date_is_told_what_is_wrong_with_it(text: str, told: str):
    with pytest.raises(ValueError, match="is not a date") as refused:
        day(text)
    assert told in str(refused.value)


@pytest.mark.parametrize("name", ["Mars/Base", "", "../etc/passwd", "Europe/oslo2"])
def test_an_unknown_zone_is_refused(name: str):
    with pytest.raises(ValueError, match="not a time zone"):
        zone(name)


def test_a_time_that_occurs_twice_means_the_first():
    """RFC 5545, section 3.3.5 (read): 1:30 on 4 November 2007 in New York is 05:30 UTC."""
    found = at_clock(date(2007, 11, 4), time(1, 30), NEW_YORK)
    assert found.astimezone(UTC) == datetime(2007, 11, 4, 5, 30, tzinfo=UTC)


def test_a_time_that_is_skipped_uses_the_offset_before_the_gap():
    """RFC 5545, section 3.3.5 (read): 2:30 on 11 March 2007 in New York is 07:30 UTC."""
    found = at_clock(date(2007, 3, 11), time(2, 30), NEW_YORK)
    assert found.astimezone(UTC) == datetime(2007, 3, 11, 7, 30, tzinfo=UTC)


def test_durations_over_a_change_of_clocks_are_real_seconds():
    start = at_clock(date(2027, 3, 14), time(1, 30), HALIFAX)
    end = at_clock(date(2027, 3, 14), time(3, 30), HALIFAX)
    assert seconds_between(start, end) == 3600  # the wall clock shows two hours
    assert later(start, 3600) == end
    assert Interval(start, end).length_s == 3600


@given(st.integers(0, 366 * 24 * 60), st.integers(-200_000, 200_000))
def test_later_and_seconds_between_agree(minutes: int, seconds: int):
    start = datetime.fromtimestamp(1_798_761_600 + 60 * minutes, tz=HALIFAX)
    assert seconds_between(start, later(start, seconds)) == seconds


def test_a_local_moment_keeps_to_its_offset_where_one_is_written():
    assert local_moment("2027-03-01T08:30", HALIFAX).isoformat() == "2027-03-01T08:30:00-04:00"
    assert local_moment("2027-03-01T08:30:00+00:00", HALIFAX).isoformat() == "2027-03-01T04:30:00-04:00"
    with pytest.raises(ValueError, match="not a date-time"):
        local_moment("tomorrow", HALIFAX)
    for text in ("2027-03-01", "20270301T083000", "2027-W09-1T08:30", "2027-03-01T08"):
        with pytest.raises(ValueError, match="not a date-time"):
            local_moment(text, HALIFAX)


MINUTES = st.integers(0, 600)
PAIRS = st.lists(st.tuples(MINUTES, st.integers(1, 90)), max_size=5)


def _intervals(pairs: list[tuple[int, int]]) -> list[Interval]:
    start = at_clock(date(2027, 3, 1), time(8), HALIFAX)
    return [Interval(later(start, 60 * at), later(start, 60 * (at + long))) for at, long in pairs]


@given(PAIRS, PAIRS)
def test_what_is_left_without_gaps_is_inside_and_free(
    pairs: list[tuple[int, int]], gaps: list[tuple[int, int]]
):
    whole, cut = _intervals(pairs), _intervals(gaps)
    left = without(whole, cut)
    assert not any(piece.meets(gap) for piece in left for gap in cut)
    assert all(any(one.holds(piece) for one in whole) for piece in left)
    for pair, one in zip(pairs, whole, strict=True):  # each minute that no gap holds is kept
        for minute in range(pair[1]):
            moment = Interval(later(one.start, 60 * minute), later(one.start, 60 * minute + 60))
            if not any(moment.meets(gap) for gap in cut):
                assert any(piece.holds(moment) for piece in left)
