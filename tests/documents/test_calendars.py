"""Calendar files, read back by two libraries with parsers of their own."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar
import ics
import pytest
import vobject

from planner.clock import at_clock, later, zone
from planner.documents.calendars import Whose, _readable, calendars


def made(study, schedule, **how):
    """Every calendar file with its bytes, by whose it is."""
    return {
        found.whose: found._replace(
            calendar=found.calendar(), cancelled=tuple(make() for make in found.cancelled)
        )
        for found in calendars(study, schedule, **how)
    }


@pytest.fixture
def files(make):
    protocol = make.rowing_protocol()
    study = make.study({protocol.file: protocol}, participants=("ROW-07", "ROW-08"))
    first = make.placed(protocol, make.at(9, 3), number=1, condition="mild air")
    # after the change to summer time on 14 March 2027
    second = make.placed(protocol, make.at(9, 3, on=date(2027, 3, 16)))
    other = make.placed(protocol, make.at(13, 0), participant="ROW-08", number=1, condition="cold air")
    return study, make.schedule([first, second, other])


def test_there_is_one_for_all_and_for_each(files):
    found = made(*files)
    assert list(found) == [
        Whose("all", ""),
        Whose("participant", "ROW-07"),
        Whose("participant", "ROW-08"),
        Whose("person", "K1"),
        Whose("person", "K2"),
        Whose("rig", "S1"),
        Whose("rig", "M1"),
        Whose("rig", "E1"),
    ]


def test_vobject_reads_the_same_instants(files):
    study, schedule = files
    text = made(study, schedule)[Whose("participant", "ROW-07")].calendar.decode()
    read = sorted(e.dtstart.value.astimezone(UTC) for e in vobject.readOne(text).vevent_list)
    own = sorted(v.start.astimezone(UTC) for v in schedule.visits if v.participant == "ROW-07")
    assert read == own


def test_ics_reads_the_same_instants(files):
    study, schedule = files
    text = made(study, schedule)[Whose("all", "")].calendar.decode()
    read = sorted(
        (e.begin.datetime.astimezone(UTC), e.end.datetime.astimezone(UTC)) for e in ics.Calendar(text).events
    )
    assert read == sorted((v.start.astimezone(UTC), v.end.astimezone(UTC)) for v in schedule.visits)


def test_a_participants_file_says_nothing_of_health_or_study(files):
    study, schedule = files
    text = made(study, schedule)[Whose("participant", "ROW-07")].calendar.decode()
    for word in ("rowing", "FVC", "MEP", "cold", "ROW-07", "breath", "study", "spirometer"):
        assert word.lower() not in text.lower().replace("testday-planner", "")


def test_no_code_is_in_a_uid_and_no_two_are_equal(files):
    uids = [
        str(e["uid"])
        for f in made(*files).values()
        for e in icalendar.Calendar.from_ical(f.calendar).walk("VEVENT")
    ]
    assert len(uids) == len(set(uids))
    assert all("ROW" not in uid.upper() and "K1" not in uid for uid in uids)


def test_no_line_is_longer_than_75_octets_and_all_end_in_crlf(files):
    """RFC 5545, 3.1 (read)."""
    for found in made(*files).values():
        assert found.calendar.endswith(b"\r\n")
        for line in found.calendar.split(b"\r\n"):
            assert len(line) <= 75
            assert b"\n" not in line


def test_text_is_escaped_as_the_standard_says(files):
    """RFC 5545, 3.3.11 (read): a comma gets a backslash, a colon does not."""
    text = made(*files)[Whose("person", "K2")].calendar.decode().replace("\r\n ", "")
    assert "SUMMARY:ROW-07\\, rowing 1: MEP efforts" in text


def test_alarms_come_before_and_are_relative(files):
    read = icalendar.Calendar.from_ical(made(*files)[Whose("participant", "ROW-07")].calendar)
    event = read.walk("VEVENT")[0]
    triggers = [alarm["trigger"].dt for alarm in event.walk("VALARM")]
    assert triggers == [timedelta(days=-1), timedelta(hours=-2)]
    assert {str(alarm["action"]) for alarm in event.walk("VALARM")} == {"DISPLAY"}


def test_a_new_version_keeps_uids_raises_sequence_and_cancels_what_went(files):
    study, old = files
    moved = replace(
        old.visits[0],
        activities=tuple(
            replace(a, start=later(a.start, 600), end=later(a.end, 600), rig_free=later(a.rig_free, 600))
            for a in old.visits[0].activities
        ),
    )
    new = replace(old, version=4, replaces=3, visits=(moved, old.visits[2]))
    whose = Whose("participant", "ROW-07")
    before = icalendar.Calendar.from_ical(made(study, old)[whose].calendar).walk("VEVENT")
    found = made(study, new, replaced=old)[whose]
    after = icalendar.Calendar.from_ical(found.calendar).walk("VEVENT")
    assert [e["uid"] for e in before] == [e["uid"] for e in after]
    assert [e["sequence"] for e in before] == [3, 3]
    assert [e["sequence"] for e in after] == [4, 4]
    assert [str(e.get("status", "")) for e in after] == ["", "CANCELLED"]
    assert after[0]["dtstart"].dt != before[0]["dtstart"].dt
    assert len(found.cancelled) == 1


def test_a_cancellation_keeps_to_the_transport_standard(files):
    """RFC 5546, CANCEL (read in a copy of its tables): one UID, ORGANIZER, SEQUENCE, STATUS, no alarm."""
    study, old = files
    new = replace(old, version=4, replaces=3, visits=old.visits[:1])
    for found in made(study, new, replaced=old).values():
        for cancelled in found.cancelled:
            read = icalendar.Calendar.from_ical(cancelled)
            assert str(read["method"]) == "CANCEL"
            (event,) = read.walk("VEVENT")
            assert str(event["status"]) == "CANCELLED"
            assert event["sequence"] == 4
            assert "organizer" in event
            assert "attendee" not in event
            assert not event.walk("VALARM")
            assert vobject.readOne(cancelled.decode()).vevent.uid.value == str(event["uid"])


def test_what_was_cancelled_for_somebody_who_is_gone_is_still_cancelled(files):
    study, old = files
    new = replace(old, version=4, replaces=3, visits=old.visits[:2])
    assert len(made(study, new, replaced=old)[Whose("participant", "ROW-08")].cancelled) == 1


def test_the_same_plan_gives_the_same_bytes(files):
    assert made(*files) == made(*files)


def test_every_zone_that_is_named_is_defined(files):
    for found in made(*files).values():
        read = icalendar.Calendar.from_ical(found.calendar)
        assert read.get_missing_tzids() == set()


def test_the_first_of_two_equal_hours_is_local_and_the_second_utc():
    """RFC 5545, 3.3.5 (read): TZID=America/New_York:20071104T013000 means 01:30 EDT."""
    new_york = zone("America/New_York")
    first = datetime(2007, 11, 4, 1, 30, tzinfo=new_york)
    assert _readable(first) == first
    assert _readable(first).astimezone(UTC) == datetime(2007, 11, 4, 5, 30, tzinfo=UTC)
    second = later(first, 3600)
    assert second.fold == 1
    assert _readable(second).tzinfo is UTC


def test_the_standards_meeting_reads_as_in_the_standard():
    """RFC 5545, section 4 (read): 12 March 1998, 08:30 to 09:30 New York time is 13:30 to 14:30 UTC."""
    start = at_clock(date(1998, 3, 12), datetime(1998, 3, 12, 8, 30).time(), zone("America/New_York"))  # noqa: DTZ001
    assert _readable(start).astimezone(UTC) == datetime(1998, 3, 12, 13, 30, tzinfo=UTC)


def test_folded_lines_of_the_standard_are_read_by_the_library_we_write_with():
    """RFC 5545, 3.1 (read): the worked example of unfolding."""
    folded = "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line."
    line = icalendar.parser.Contentlines.from_ical(folded)[0]
    assert line == "DESCRIPTION:This is a long description that exists on a long line."
