"""The packed study as pictures: a day, a week, the whole plan; by device, staff member or participant."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import streamlit as st

from planner.documents.boards import By, day_chart, day_words, week_chart, week_words
from planner.documents.shown import date_words, placed_words
from planner.documents.whole_plan import whole_chart, whole_words
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

SPANS = ("day", "week", "whole plan")
ROWS: dict[str, By] = {"device": "rig", "staff": "person", "participant": "participant"}
DAY = "schedule-day"


def show_picture(study: Study, schedule: Schedule) -> None:
    """The picture that is asked for, what it shows in words, and its visits as a table."""
    if not schedule.dates:
        st.info("This plan places no visit. What stands in the way is listed below.")
        return
    when, span, rows = st.columns([3, 3, 3], vertical_alignment="bottom")
    day = _day(when, schedule)
    with span:
        seen = _choice("Show", SPANS, "schedule-span", "view")
    with rows:
        by = ROWS[_choice("Rows", tuple(ROWS), "schedule-rows", "rows")]
    if seen == "whole plan":
        st.altair_chart(whole_chart(schedule, study, by=by), width="stretch", alt="Every visit of the plan")
        st.write("Drag along the time line to move; turn the wheel to come closer; double-click to go back.")
        _words(whole_words(schedule, study, by=by))
        _table(study, schedule, schedule.visits)
    elif seen == "week":
        monday = date.fromordinal(day.toordinal() - day.weekday())
        st.altair_chart(week_chart(schedule, study, monday), width="stretch", alt="The week's visits")
        _words(week_words(schedule, study, monday))
        week = [v for v in schedule.visits if 0 <= (v.date - monday).days < 7]
        _table(study, schedule, week)
    else:
        only = _of_day(schedule, day)
        st.altair_chart(day_chart(only, study, day, by=by), width="stretch", alt="The day, row by row")
        _words(day_words(only, study, day, by=by))
        _table(study, schedule, schedule.on(day))


def numbered(schedule: Schedule) -> dict[int, PlacedVisit]:
    """Each visit by its number in the plan, counted from 1."""
    return dict(enumerate(schedule.visits, 1))


def _of_day(schedule: Schedule, day: date) -> Schedule:
    """The plan as if that day were all of it: pictures of one day need no other."""
    tasks = tuple(task for task in schedule.rig_tasks if task.start.date() == day)
    return replace(schedule, visits=schedule.on(day), rig_tasks=tasks)


def _day(place: st.delta_generator.DeltaGenerator, schedule: Schedule) -> date:
    """The day chosen, kept in the address."""
    asked = st.query_params.get("day", "")
    known = {day.isoformat(): day for day in schedule.dates}
    if DAY not in st.session_state or st.session_state[DAY] not in schedule.dates:
        st.session_state[DAY] = known.get(asked, schedule.dates[0])
    day = place.selectbox(
        "Day",
        schedule.dates,
        format_func=date_words,
        key=DAY,
        persist_state="session",
        on_change=_leave_visit,
    )
    st.query_params["day"] = day.isoformat()
    return day


def _leave_visit() -> None:
    """Another day was chosen: the visit in hand is no longer the one of the address."""
    st.query_params.pop("visit", None)
    st.session_state.pop("schedule-visit", None)


def _choice(label: str, options: tuple[str, ...], key: str, parameter: str) -> str:
    """One of a few, kept in the address; taking it away again is no choice."""
    asked = st.query_params.get(parameter, "")
    if key not in st.session_state:
        st.session_state[key] = asked if asked in options else options[0]
    chosen = st.segmented_control(label, options, key=key, persist_state="session", required=True)
    st.query_params[parameter] = chosen or options[0]
    return chosen or options[0]


def _words(words: str) -> None:
    """What the picture shows, for eyes that cannot use it."""
    with st.expander("The picture in words"):
        st.write(words)


def _table(study: Study, schedule: Schedule, visits: tuple[PlacedVisit, ...] | list[PlacedVisit]) -> None:
    """Visits as text, numbered as in the plan; a condition is in the name only where nothing is blind."""
    numbers = {(v.participant, v.file_id): n for n, v in numbered(schedule).items()}
    rows = [
        {
            "No.": numbers[visit.participant, visit.file_id],
            "Participant": visit.participant,
            "Visit": placed_words(study, visit),
            "Day": f"{visit.date:%a %d %b}",
            "Starts": f"{visit.start:%H:%M}",
            "Ends": f"{visit.end:%H:%M}",
            "Devices": ", ".join(sorted({rig for a in visit.activities for rig in a.rigs})),
            "Staff": ", ".join(sorted({who for a in visit.activities for who in a.staff.values()})),
        }
        for visit in visits
    ]
    if len(rows) <= 12:
        st.table(rows, hide_index=True, border="horizontal")
    else:
        st.dataframe(rows, hide_index=True)
