"""Of a rig's or person's several lines those are named that are in the way, each at its place and day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from planner.clock import Interval, zone
from planner.packing.why.told import span_words

Told = Callable[[Path], str]

COMES = "participant,days,from,to,visit\n"


def three_days(folder: Path) -> None:
    """ROW-01 comes three times, on Monday, Tuesday and Thursday, as there are no other days to come."""
    (folder / "availability.csv").write_text(COMES + "ROW-01,mon tue thu,09:00,13:00,\n", encoding="utf-8")


def test_the_outage_in_the_way_is_named_and_no_other(small: Path, told: Told):
    three_days(small)
    (small / "outages.csv").write_text(
        "rig,from,to\nE1,2027-02-01T08:00,2027-02-02T17:00\nE1,2027-03-02T16:00,2027-03-02T16:30\n"
        "E1,2027-03-02T08:00,2027-03-02T13:00\n",
        encoding="utf-8",
    )
    words = told(small)
    assert "outages.csv:4 E1 is out of use 02 Mar 08:00-13:00\n" in words
    assert "if E1 were not out of use 02 Mar 08:00-13:00: all 6 placed" in words
    assert "outages.csv:2" not in words
    assert "outages.csv:3" not in words


def test_the_absence_in_the_way_is_named_and_no_other(small: Path, told: Told):
    three_days(small)
    (small / "staff.csv").write_text(
        "person,roles\nK1,operator\nK2,operator;cheek support\nK3,lead;cheek support\n", encoding="utf-8"
    )
    (small / "absences.csv").write_text(
        "person,from,to\nK3,2027-02-01T08:00,2027-02-02T17:00\nK3,2027-03-01T15:00,2027-03-01T16:00\n"
        "K3,2027-03-04T08:00,2027-03-04T12:30\n",
        encoding="utf-8",
    )
    words = told(small)
    assert "absences.csv:4 K3 is absent 04 Mar 08:00-12:30\n" in words
    assert "if K3 were there 04 Mar 08:00-12:30: all 6 placed" in words
    assert "absences.csv:2" not in words
    assert "absences.csv:3" not in words


def shifts(folder: Path, *, thursday: str) -> None:
    (folder / "staff.csv").write_text(
        "person,roles\nK1,operator\nK2,operator;cheek support\nK3,lead;cheek support\n", encoding="utf-8"
    )
    (folder / "absences.csv").write_text("person,from,to\n", encoding="utf-8")
    (folder / "shifts.csv").write_text(
        "person,days,from,to,breaks\nK1,mon-fri,08:00,17:00,\nK2,mon-fri,08:00,17:00,\n"
        f"K3,mon-wed,08:00,17:00,\nK3,thu,{thursday}\nK3,fri,08:00,17:00,\n",
        encoding="utf-8",
    )


def test_the_shift_of_the_day_is_named_and_staying_on_that_day_offered(small: Path, told: Told):
    three_days(small)
    shifts(small, thursday="08:00,09:15,")
    words = told(small)
    assert "shifts.csv:5 the shifts of K3 on Thu 04 Mar (08:00-09:15)\n" in words
    assert "min longer on Thu 04 Mar: all 6 placed" in words
    assert "shifts.csv:4" not in words


def test_coming_earlier_is_offered_where_the_shift_begins_too_late(small: Path, told: Told):
    three_days(small)
    shifts(small, thursday="12:50,17:00,")
    words = told(small)
    assert "shifts.csv:5 the shifts of K3 on Thu 04 Mar (12:50-17:00)\n" in words
    assert "min earlier on Thu 04 Mar: all 6 placed" in words


def test_the_break_of_the_day(small: Path, told: Told):
    three_days(small)
    shifts(small, thursday="08:00,17:00,09:05-12:55")
    words = told(small)
    assert "shifts.csv:5 the breaks of K3" in words
    assert "if K3 had no break at that time" in words


def test_the_line_for_the_kind_of_visit_that_has_no_place(small: Path, told: Told):
    (small / "availability.csv").write_text(
        COMES + "ROW-02,mon-fri,08:00,17:00,practice\nROW-01,mon-fri,08:00,17:00,practice\n"
        "ROW-01,mon-fri,15:00,15:10,rowing\n",
        encoding="utf-8",
    )
    words = told(small)
    assert "availability.csv:4 ROW-01 can come for rowing Mon 15:00-15:10, " in words
    assert "if ROW-01 could come for rowing" in words
    assert "for practice" not in words


def test_hours_in_which_the_clocks_change_say_how_long_they_are():
    """In Oslo clocks go from 02:00 to 03:00 on that night."""
    oslo = zone("Europe/Oslo")
    start, end = (
        datetime.fromisoformat(f"2027-03-28T{at}").replace(tzinfo=oslo) for at in ("01:30", "03:45")
    )
    span = Interval(start, end)
    assert span_words(span) == "28 Mar 01:30-03:45 (clocks change in between: 1 h 15 min long)"
    assert span_words(Interval(start, start)) == "28 Mar 01:30-01:30"


def test_seconds_are_shown_where_there_are_any():
    start, end = (datetime.fromisoformat(f"2027-03-01T{at}+01:00") for at in ("08:00:00", "08:20:31"))
    assert span_words(Interval(start, end)) == "01 Mar 08:00-08:20:31"
