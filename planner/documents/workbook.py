"""The whole plan as a workbook, for those who live in spreadsheets; blind conditions are not in it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, time

from planner.clock import duration_words, seconds_between
from planner.documents.kit import kit_tables
from planner.documents.shown import placed_words
from planner.documents.spreadsheet import Cell, Table, spreadsheet
from planner.documents.texts import lines, say
from planner.schedule.as_it_stands import files_changed
from planner.schedule.changes import change_words
from planner.schedule.model import Activity, PlacedVisit, Schedule
from planner.study.model import Study


def workbook(study: Study, schedule: Schedule) -> bytes:
    """Plan, visits, activities, checks, kit, and where there are any what was not placed and what changed."""
    return spreadsheet(_tables(study, schedule), title=study.name, made=schedule.made)


def _tables(study: Study, schedule: Schedule) -> Iterator[Table]:
    zone = str(study.zone)
    visits = sorted(schedule.visits, key=lambda v: (v.start.timestamp(), v.participant))
    yield Table(say("workbook.plan"), ("", ""), _plan_rows(study, schedule))
    rows = [_visit_row(study, visit, zone) for visit in visits]
    yield Table(say("workbook.visits"), lines("workbook.visit_columns"), rows)
    rows = [_activity_row(visit, a, zone) for visit in visits for a in visit.activities]
    yield Table(say("workbook.activities"), lines("workbook.activity_columns"), rows)
    rows = [
        [t.start.date(), _clock(t.start), _clock(t.end), t.rig, _people(t.staff), zone]
        for t in sorted(schedule.rig_tasks, key=lambda t: t.start.timestamp())
    ]
    yield Table(say("workbook.checks"), lines("workbook.check_columns"), rows)
    yield from kit_tables(study, schedule)
    if schedule.not_placed:
        rows = [[n.participant, n.visit, n.message] for n in schedule.not_placed]
        yield Table(say("workbook.not_placed"), lines("workbook.not_placed_columns"), rows)
    if schedule.changes:
        rows = [
            [c.participant, c.visit, change_words(c, schedule), c.before, c.after] for c in schedule.changes
        ]
        yield Table(say("workbook.changes"), lines("workbook.change_columns"), rows)


def _plan_rows(study: Study, schedule: Schedule) -> list[list[Cell]]:
    values: list[Cell] = [
        schedule.study,
        schedule.version,
        schedule.replaces,
        schedule.made.replace(tzinfo=None),
        schedule.status.value,
        schedule.asked,
        schedule.placed,
        str(study.zone),
    ]
    rows = [[name, value] for name, value in zip(lines("workbook.plan_rows"), values, strict=True)]
    return [*rows, [say("workbook.since"), None]] if files_changed(schedule, study) else rows


def _visit_row(study: Study, visit: PlacedVisit, zone: str) -> list[Cell]:
    return [
        visit.date,
        _clock(visit.start),
        _clock(visit.end),
        visit.participant,
        visit.file_id,
        placed_words(study, visit),
        round(seconds_between(visit.start, visit.end) / 60, 1),
        zone,
    ]


def _activity_row(visit: PlacedVisit, activity: Activity, zone: str) -> list[Cell]:
    watch = activity.watch
    stays = (
        "" if watch is None else say("workbook.stays", who=_people(watch.staff), end=f"{watch.end:%H:%M:%S}")
    )
    return [
        activity.start.date(),
        _clock(activity.start),
        _clock(activity.first_effort) if activity.first_effort else None,
        _clock(activity.end),
        _clock(activity.rig_free),
        visit.participant,
        visit.file_id,
        activity.step,
        "" if activity.at_s is None else duration_words(activity.at_s),
        activity.manoeuvre,
        ", ".join(activity.rigs),
        _people({**activity.staff, **activity.clear_staff}),
        stays,
        activity.planned_efforts,
        zone,
    ]


def _people(staff: Mapping[str, str]) -> str:
    return ", ".join(f"{role} {person}" for role, person in staff.items())


def _clock(moment: datetime) -> time:
    """The local clock time: spreadsheets know no zones, so the zone stands in a column of its own."""
    return moment.time().replace(microsecond=0)
