"""Calendar files: one for each person, rig and participant, and one for all (RFC 5545).

Entries keep their UID over the versions of a plan. What a new version dropped is cancelled: in the
calendar itself by its status, and in a file of its own that a calendar program takes as a
cancellation (RFC 5546: one UID a file). Participants' entries have a neutral title.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import partial
from typing import NamedTuple

import icalendar

from planner.documents.busy import Doing, Span, of_person, of_rig, spans
from planner.documents.shown import is_understood, placed_words
from planner.documents.texts import say
from planner.documents.time_zone import time_zone
from planner.schedule.model import Schedule
from planner.study.model import Study

_OURS = uuid.UUID("6a0b4c56-8a53-5a36-8f0e-7f6e6f0d8a11")


class Whose(NamedTuple):
    """Whose calendar: kind `participant`, `person`, `rig` or `all`, and the code."""

    kind: str
    code: str


class CalendarFile(NamedTuple):
    """One calendar file: whose it is, what makes its bytes, and one cancellation for each entry that went."""

    whose: Whose
    calendar: Callable[[], bytes]
    cancelled: tuple[Callable[[], bytes], ...]


@dataclass(frozen=True, slots=True)
class _Entry:
    uid: str
    summary: str
    start: datetime
    end: datetime


def calendars(
    study: Study, schedule: Schedule, *, replaced: Schedule | None = None, only: Iterable[Whose] | None = None
) -> Iterator[CalendarFile]:
    """Every calendar of the plan, sorted by whose it is; with `replaced`, cancellations of what went."""
    now = spans(study, schedule)
    before = spans(study, _understood(study, replaced)) if replaced else ()
    wanted = everybody(study, schedule, replaced) if only is None else tuple(only)
    for whose in wanted:
        entries = _entries(study, schedule, now, whose)
        gone = _gone(entries, _entries(study, replaced, before, whose)) if replaced else []
        if entries or gone:
            yield CalendarFile(
                whose,
                partial(_calendar, study, schedule, whose, entries, gone),
                tuple(partial(_cancellation, study, schedule, whose, entry) for entry in gone),
            )


def _understood(study: Study, replaced: Schedule) -> Schedule:
    """The plan before, without visits whose steps the study no longer has: their duties have no name."""
    return replace(replaced, visits=tuple(one for one in replaced.visits if is_understood(study, one)))


def everybody(study: Study, schedule: Schedule, replaced: Schedule | None = None) -> tuple[Whose, ...]:
    """All whose calendars there are, in order."""
    plans = [schedule, *([replaced] if replaced else [])]
    participants = sorted({visit.participant for plan in plans for visit in plan.visits})
    return (
        Whose("all", ""),
        *(Whose("participant", code) for code in participants),
        *(Whose("person", person.id) for person in study.people),
        *(Whose("rig", rig.id) for rig in study.rigs),
    )


def _gone(now: list[_Entry], before: list[_Entry]) -> list[_Entry]:
    kept = {entry.uid for entry in now}
    return [entry for entry in before if entry.uid not in kept]


def _uid(study: Study, *parts: object) -> str:
    """A name-based UUID: the same over all versions, and no code can be read from it."""
    return str(uuid.uuid5(_OURS, "\n".join([study.name, *map(str, parts)])))


def _entries(study: Study, schedule: Schedule, found: tuple[Span, ...], whose: Whose) -> list[_Entry]:
    if whose.kind == "person":
        return list(_duties(study, of_person(found, whose.code), whose))
    if whose.kind == "rig":
        return list(_duties(study, of_rig(found, whose.code), whose))
    return [
        _Entry(
            _uid(study, whose.kind, visit.participant, visit.file_id),
            _visit_title(study, visit.participant, placed_words(study, visit), whose),
            visit.start,
            visit.end,
        )
        for visit in sorted(schedule.visits, key=lambda v: (v.start.timestamp(), v.participant))
        if whose.kind == "all" or visit.participant == whose.code
    ]


def _visit_title(study: Study, participant: str, shown: str, whose: Whose) -> str:
    if whose.kind == "participant":
        return say("calendar.participant")
    return say("calendar.visit", participant=participant, visit=shown)


def _duties(study: Study, found: tuple[Span, ...], whose: Whose) -> Iterator[_Entry]:
    clearings = _clearings(found) if whose.kind == "rig" else {}
    for span in found:
        if span.doing is Doing.CLEARING and whose.kind == "rig":
            continue  # a rig's entry runs to the end of clearing by itself
        end = clearings.get((span.participant, span.end), span.end)
        day = span.start.date() if span.doing is Doing.FIRST_USE else ""
        key = (whose.kind, whose.code, span.participant, span.file_id, span.step, span.at_s, span.manoeuvre)
        title = span.what
        if span.participant is not None:
            values = {"participant": span.participant, "visit": span.visit}
            title = say("calendar.duty", what=span.what, **values)
        yield _Entry(_uid(study, *key, span.doing, day), title, span.start, end)


def _clearings(found: tuple[Span, ...]) -> dict[tuple[str | None, datetime], datetime]:
    """The end of clearing by participant and the moment at which it begins."""
    return {(s.participant, s.start): s.end for s in found if s.doing is Doing.CLEARING}


def _calendar(
    study: Study, schedule: Schedule, whose: Whose, entries: list[_Entry], gone: list[_Entry]
) -> bytes:
    found = _empty(study, whose, [*entries, *gone])
    for entry in entries:
        event = _event(schedule, entry)
        for alarm in _alarms(whose, entry):
            event.add_component(alarm)
        found.add_component(event)
    for entry in gone:
        event = _event(schedule, entry)
        event.add("status", "CANCELLED")
        event.add("comment", say("calendar.gone", version=schedule.version))
        found.add_component(event)
    return bytes(found.to_ical())


def _cancellation(study: Study, schedule: Schedule, whose: Whose, entry: _Entry) -> bytes:
    found = _empty(study, whose, [entry])
    found.add("method", "CANCEL")
    event = _event(schedule, entry)
    organizer = icalendar.vCalAddress(f"urn:uuid:{_uid(study, 'organizer')}")
    organizer.params["CN"] = icalendar.vText(say("calendar.organizer"))
    event["organizer"] = organizer
    event.add("status", "CANCELLED")
    found.add_component(event)
    return bytes(found.to_ical())


def _empty(study: Study, whose: Whose, entries: list[_Entry]) -> icalendar.Calendar:
    found = icalendar.Calendar()
    found.add("prodid", say("calendar.product"))
    found.add("version", "2.0")
    found.add("name", _name(study, whose))
    found.add("x-wr-calname", _name(study, whose))
    years = [moment.year for entry in entries for moment in (entry.start, entry.end)]
    found.add_component(time_zone(study.zone, min(years), max(years)))
    return found


def _name(study: Study, whose: Whose) -> str:
    if whose.kind == "participant":
        return say("calendar.participant_name")
    if whose.kind == "all":
        return say("calendar.all_name", study=study.name)
    return whose.code


def _event(schedule: Schedule, entry: _Entry) -> icalendar.Event:
    event = icalendar.Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", schedule.made.astimezone(UTC))
    event.add("dtstart", _readable(entry.start))
    event.add("dtend", _readable(entry.end))
    event.add("summary", entry.summary)
    event.add("sequence", schedule.version)
    event.add("description", say("calendar.plan", version=schedule.version))
    return event


def _readable(moment: datetime) -> datetime:
    """Local time with its zone; UTC in the second of two equal hours, which local time can't name (3.3.5)."""
    twice = moment.replace(fold=0).utcoffset() != moment.utcoffset()
    return moment.astimezone(UTC) if twice else moment


def _alarms(whose: Whose, entry: _Entry) -> Iterator[icalendar.Alarm]:
    before = {
        "participant": (timedelta(days=-1), timedelta(hours=-2)),
        "person": (timedelta(minutes=-10),),
    }
    words = say("calendar.alarm")
    if whose.kind == "person":
        words = say("calendar.alarm_duty", summary=entry.summary)
    for trigger in before.get(whose.kind, ()):
        alarm = icalendar.Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", words)
        alarm.add("trigger", trigger)
        yield alarm
