"""VTIMEZONEs of the plan's years, read back by dateutil, which knows nothing of ours."""

import io
from datetime import UTC, datetime, timedelta

import icalendar
import pytest
from dateutil import tz

from planner.clock import zone
from planner.documents.time_zone import time_zone

ZONES = (
    "America/Halifax",
    "Europe/Berlin",
    "Europe/Dublin",
    "Pacific/Chatham",
    "Australia/Lord_Howe",
    "Asia/Kolkata",
    "America/Sao_Paulo",
    "Africa/Casablanca",
    "UTC",
)


def read_back(name, first, last):
    calendar = icalendar.Calendar()
    calendar.add_component(time_zone(zone(name), first, last))
    return tz.tzical(io.StringIO(calendar.to_ical().decode())).get(name)


@pytest.mark.parametrize("name", ZONES)
def test_every_hour_of_two_years_has_the_offset_of_the_zone(name):
    other, ours = read_back(name, 2027, 2028), zone(name)
    moment = datetime(2027, 1, 2, tzinfo=UTC)
    while moment < datetime(2028, 12, 30, tzinfo=UTC):
        local = moment.astimezone(ours)
        if local.fold == 0:  # the second of two equal hours is not to be told from local time
            assert other.utcoffset(local.replace(tzinfo=None)) == local.utcoffset(), local
        moment += timedelta(hours=5)


def test_the_onset_is_written_in_the_offset_before():
    """RFC 5545, 3.6.5 (read): New York's spring change at 02:00 local standard time."""
    written = time_zone(zone("America/New_York"), 2027, 2027).to_ical().decode()
    assert "DTSTART:20270314T020000" in written
    assert "TZOFFSETFROM:-0500\r\nTZOFFSETTO:-0400" in written


def test_no_line_holds_several_dates():
    written = time_zone(zone("Europe/Berlin"), 2027, 2029).to_ical().decode()
    assert "RDATE" not in written
    assert "RRULE" not in written
