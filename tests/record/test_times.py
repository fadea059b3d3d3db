"""Recorded moments in the study's zone, many at a time: as each alone would be told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

from hypothesis import given
from hypothesis import strategies as st

from planner.clock import zone
from planner.record.efforts_file import local_text
from planner.record.times import Times

ZONES = ("Pacific/Chatham", "America/Halifax", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC")
FROM, UNTIL = (datetime(year, 1, 1, tzinfo=UTC).replace(tzinfo=None) for year in (2026, 2028))


@given(
    st.sampled_from(ZONES),
    st.lists(st.datetimes(FROM, UNTIL), max_size=30),
    st.integers(-14 * 4, 14 * 4),
)
def test_each_is_told_as_it_would_be_alone(name, moments, quarters):
    times, far = Times(zone(name)), timezone(timedelta(minutes=15 * quarters))
    for moment in moments:
        for written in (moment.replace(tzinfo=UTC).astimezone(zone(name)), moment.replace(tzinfo=far)):
            instant, words = times[written.isoformat()]
            assert instant == written.timestamp()
            assert words == local_text(written.astimezone(zone(name)))


def test_the_night_on_which_clocks_are_put_back_keeps_its_order():
    """Halifax, 7 November 2027, from the time zone database: 01:30 comes twice, an hour apart."""
    times = Times(zone("America/Halifax"))
    (first, one), (second, other) = (times[f"2027-11-07T01:30:00-0{n}:00"] for n in (3, 4))
    assert second - first == 3600
    assert one != other
