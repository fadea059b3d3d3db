"""One visit of the plan, by its number: every part of it as text, and fixing it where it is."""

from __future__ import annotations

from datetime import date, time

import streamlit as st

from planner.documents.busy import Doing, Span, visit_spans
from planner.documents.shown import date_words, placed_words
from planner.pages import access
from planner.pages.common import keep_address
from planner.pages.schedule_files import fix, wish_words
from planner.pages.schedule_picture import DAY, numbered, of_day
from planner.record.access import Right
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

VISIT = "schedule-visit"
FIXES = ", or to fix it where it is"


def show_visit(study: Study, schedule: Schedule, *, may_fix: bool) -> None:
    """A visit of the day in hand: its parts, and what of it shall stay."""
    day = st.session_state.get(DAY)
    visits = of_day(study, schedule, day)
    if not visits:
        return
    may_fix = may_fix and not access.why_not(Right.PLAN)
    asked = st.query_params.get("visit", "")
    if st.session_state.get(VISIT) not in visits:
        st.session_state[VISIT] = int(asked) if asked.isdecimal() and int(asked) in visits else None
    number = st.selectbox(
        "One visit of this day",
        list(visits),
        format_func=lambda n: (
            f"{n}: {visits[n].participant}, {placed_words(study, visits[n])}, {visits[n].start:%H:%M}"
        ),
        index=None,
        placeholder=f"Choose a visit to see every part of it{FIXES if may_fix else ''}",
        key=VISIT,
        persist_state="session",
    )
    keep_address("schedule-visit", {"visit": str(number)} if number else {})
    if number is None:
        st.query_params.pop("visit", None)
        return
    visit = visits[number]
    if may_fix:
        _fix(study, visit)
    st.table([_part(span) for span in _parts(study, visit)], hide_index=True, border="horizontal")


def day_of_visit(schedule: Schedule) -> None:
    """An address that names a visit alone opens its day."""
    asked = st.query_params.get("visit", "")
    visit = numbered(schedule).get(int(asked)) if asked.isdecimal() and len(asked) < 9 else None
    if visit and DAY not in st.session_state and "day" not in st.query_params:
        st.session_state[DAY] = visit.date


def _parts(study: Study, visit: PlacedVisit) -> list[Span]:
    found = [span for span in visit_spans(study, visit) if span.doing is not Doing.WATCH]
    return sorted(found, key=lambda span: (span.start.timestamp(), span.end.timestamp()))


def _part(span: Span) -> dict[str, str]:
    first = span.first_effort if span.doing is Doing.EFFORTS else None  # cleaning after it has none
    return {
        "Time": f"{span.start:%H:%M:%S}–{span.end:%H:%M:%S}",
        "What": span.what,
        "First effort": f"{first:%H:%M:%S}" if first else "",
        "Devices": ", ".join(span.rigs),
        "Staff": ", ".join(f"{person} ({role})" for person, role in span.roles.items()),
    }


def _fix(study: Study, visit: PlacedVisit) -> None:
    """What of this visit shall stay in the next plan."""
    rigs = sorted({rig for a in visit.activities for rig in a.rigs})
    people = sorted({who for a in visit.activities for who in a.staff.values()})
    with st.form("schedule-fix", border=True):
        st.markdown("**Fix this visit.** The next plan keeps what is ticked or chosen here.")
        for wish in study.wishes:
            if wish.participant == visit.participant and wish.visit in ("", None, visit.file_id):
                st.markdown(f"Fixed already: {wish_words(wish)}.")
        left, middle, right = st.columns(3)
        keeps_day = left.checkbox(date_words(visit.date), value=True, key="schedule-fix-day")
        keeps_start = left.checkbox(f"start at {visit.start:%H:%M:%S}", key="schedule-fix-start")
        other_day = middle.selectbox(
            "On another day",
            list(study.open),
            index=None,
            format_func=date_words,
            placeholder="As it is",
            key="schedule-fix-other-day",
        )
        other_start = right.time_input(
            "At another time", value=None, step=300, key="schedule-fix-other-start"
        )
        rig = middle.selectbox("Device", ["any", *rigs], key="schedule-fix-rig")
        person = right.selectbox("Staff member", ["any", *people], key="schedule-fix-person")
        if st.form_submit_button("Fix it so", key="schedule-fix-it"):
            start = other_start or (visit.start.time() if keeps_start else None)
            day = other_day or (visit.date if keeps_day or start else None)
            row = {"participant": visit.participant, "visit": visit.file_id} | _settled(day, start)
            row |= {"rig": "" if rig == "any" else rig, "person": "" if person == "any" else person}
            fix(study, row)


def _settled(day: date | None, start: time | None) -> dict[str, str]:
    """The day and the start as the table of fixed visits writes them; a start without a day is none."""
    return {
        "date": day.isoformat() if day else "",
        "start": f"{day.isoformat()}T{start:%H:%M:%S}" if day and start else "",
    }
