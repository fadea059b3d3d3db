"""The packed study as pictures: a day, a week, the whole plan; by device, staff member or participant."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import pandas as pd
import streamlit as st

from planner.documents.boards import By, day_chart, day_words, week_chart, week_words
from planner.documents.picture import screen_spec
from planner.documents.shown import date_words, placed_words
from planner.documents.whole_plan import whole_chart, whole_words
from planner.pages.common import keep_address, plan_in_force, study_if_whole
from planner.pages.drawing import Mark, draw, plan_mark
from planner.pages.fold import words_of_picture
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

SPANS = ("day", "week", "whole plan")
ROWS: dict[str, By] = {"device": "rig", "staff": "person", "participant": "participant"}
DAY = "schedule-day"
MOST_ROWS = 12  # as text; more are shown as a table that scrolls


@dataclass(frozen=True, slots=True)
class Shown:
    """What one choice shows: the picture as JSON, its words, and the visits it holds."""

    spec: str
    words: str
    rows: pd.DataFrame


def show_picture(study: Study, schedule: Schedule) -> None:
    """The picture that is asked for, what it shows in words, and its visits as a table."""
    mark = plan_mark(study, schedule)
    dates = _dates(schedule, mark)
    if not dates:
        st.info("This plan places no visit. What stands in the way is listed above.")
        return
    when, span, rows = st.columns([3, 3, 3], vertical_alignment="bottom")
    day = _day(when, dates)
    with span:
        seen = _choice("Show", SPANS, "schedule-span", "view")
    with rows:
        by = ROWS[_choice("Rows", tuple(ROWS), "schedule-rows", "rows")]
    _keep_address(day, seen, by)
    shown = _shown(study, schedule, mark, seen, _first(seen, day), by)
    draw(shown.spec, shown.words)
    if seen == "whole plan":
        st.write(
            "A bar for each visit, in each row that it needs. Drag along the time line to move; turn the "
            "wheel to come closer; double-click to go back. Without a wheel, choose a week or a day above."
        )
    words_of_picture(shown.words, "schedule-in-words")
    if len(shown.rows) <= MOST_ROWS:
        st.table(shown.rows, hide_index=True, border="horizontal")
    else:
        st.dataframe(shown.rows, hide_index=True)


def draw_ahead(folder: Path) -> None:
    """The pictures that the page opens with, and those of the whole plan, before anybody asks for them."""
    study = study_if_whole()
    schedule = plan_in_force(study) if study else None
    if study is None or schedule is None or not schedule.dates:
        return
    mark = plan_mark(study, schedule)
    opening: list[tuple[str, By]] = [("day", "rig"), ("week", "rig")]
    for seen, by in (*opening, *(("whole plan", by) for by in ROWS.values())):
        _shown(study, schedule, mark, seen, _first(seen, schedule.dates[0]), by)
        time.sleep(0.05)  # whoever waits for a page comes first


def _first(seen: str, day: date) -> date:
    """The day that a choice begins with; all days of a week share its picture, all days that of the plan."""
    if seen == "week":
        return date.fromordinal(day.toordinal() - day.weekday())
    return day if seen == "day" else date.min


@st.cache_resource(max_entries=64, show_spinner=False)
def _shown(_study: Study, _schedule: Schedule, mark: Mark, seen: str, first: date, by: By) -> Shown:
    """The picture, its words and its rows; drawn once for all sessions."""
    study, schedule = _study, _schedule
    if seen == "whole plan":
        spec = screen_spec(lambda: whole_chart(schedule, study, by=by))
        return Shown(spec, whole_words(schedule, study, by=by), _table(study, schedule, schedule.visits))
    if seen == "week":
        spec = screen_spec(lambda: week_chart(schedule, study, first))
        week = [v for v in schedule.visits if 0 <= (v.date - first).days < 7]
        return Shown(spec, week_words(schedule, study, first), _table(study, schedule, week))
    only = _of_day(schedule, first)
    spec = screen_spec(lambda: day_chart(only, study, first, by=by))
    return Shown(spec, day_words(only, study, first, by=by), _table(study, schedule, only.visits))


@st.cache_resource(max_entries=16, show_spinner=False)
def _dates(_schedule: Schedule, mark: Mark) -> tuple[date, ...]:
    return _schedule.dates


@st.cache_resource(max_entries=16, show_spinner=False)
def _by_day(_schedule: Schedule, mark: Mark) -> dict[date, dict[int, PlacedVisit]]:
    found: dict[date, dict[int, PlacedVisit]] = {}
    for number, visit in numbered(_schedule).items():
        found.setdefault(visit.date, {})[number] = visit
    return found


def of_day(study: Study, schedule: Schedule, day: date | None) -> dict[int, PlacedVisit]:
    """The visits of that day by their numbers in the plan."""
    return _by_day(schedule, plan_mark(study, schedule)).get(day, {}) if day else {}


def numbered(schedule: Schedule) -> dict[int, PlacedVisit]:
    """Each visit by its number in the plan, counted from 1."""
    return dict(enumerate(schedule.visits, 1))


def _of_day(schedule: Schedule, day: date) -> Schedule:
    """The plan as if that day were all of it: pictures of one day need no other."""
    tasks = tuple(task for task in schedule.rig_tasks if task.start.date() == day)
    return replace(schedule, visits=schedule.on(day), rig_tasks=tasks)


def _day(place: st.delta_generator.DeltaGenerator, dates: tuple[date, ...]) -> date:
    """The day chosen, at first that of the address."""
    asked = st.query_params.get("day", "")
    known = {day.isoformat(): day for day in dates}
    if DAY not in st.session_state or st.session_state[DAY] not in dates:
        st.session_state[DAY] = known.get(asked, dates[0])
    return place.selectbox(
        "Day",
        dates,
        format_func=date_words,
        key=DAY,
        persist_state="session",
        on_change=_leave_visit,
    )


def _keep_address(day: date, seen: str, by: By) -> None:
    rows = next(name for name, value in ROWS.items() if value == by)
    keep_address("schedule", {"day": day.isoformat(), "view": seen, "rows": rows})


def _leave_visit() -> None:
    """Another day was chosen: the visit in hand is no longer the one of the address."""
    st.query_params.pop("visit", None)
    st.session_state.pop("schedule-visit", None)


def _choice(label: str, options: tuple[str, ...], key: str, parameter: str) -> str:
    """One of a few, at first that of the address."""
    asked = st.query_params.get(parameter, "")
    if key not in st.session_state:
        st.session_state[key] = asked if asked in options else options[0]
    chosen = st.segmented_control(label, options, key=key, persist_state="session", required=True)
    return chosen or options[0]


def _table(
    study: Study, schedule: Schedule, visits: tuple[PlacedVisit, ...] | list[PlacedVisit]
) -> pd.DataFrame:
    """Visits as text, numbered as in the plan; a condition is in the name only where nothing is blind."""
    numbers = {(v.participant, v.file_id): n for n, v in numbered(schedule).items()}
    return pd.DataFrame(
        [
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
    )
