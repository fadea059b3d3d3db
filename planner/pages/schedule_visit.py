"""One visit of the plan, by its number: every part of it as text, and fixing it where it is."""

from __future__ import annotations

import streamlit as st

from planner.documents.busy import Doing, Span, visit_spans
from planner.documents.shown import date_words, placed_words
from planner.pages.schedule_files import fix
from planner.pages.schedule_picture import DAY, numbered
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study

VISIT = "schedule-visit"


def show_visit(study: Study, schedule: Schedule, *, may_fix: bool) -> None:
    """A visit of the day in hand: its parts, and what of it shall stay."""
    day = st.session_state.get(DAY)
    visits = {n: v for n, v in numbered(schedule).items() if v.date == day}
    if not visits:
        return
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
        placeholder="Choose a visit to see every part of it, or to fix it where it is",
        key=VISIT,
        persist_state="session",
    )
    if number is None:
        st.query_params.pop("visit", None)
        return
    st.query_params["visit"] = str(number)
    visit = visits[number]
    st.table([_part(span) for span in _parts(study, visit)], hide_index=True, border="horizontal")
    if may_fix:
        _fix(study, visit)


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
    return {
        "Time": f"{span.start:%H:%M:%S}–{span.end:%H:%M:%S}",
        "What": span.what,
        "First effort": f"{span.first_effort:%H:%M:%S}" if span.first_effort else "",
        "Devices": ", ".join(span.rigs),
        "Staff": ", ".join(f"{person} ({role})" for person, role in span.roles.items()),
    }


def _fix(study: Study, visit: PlacedVisit) -> None:
    """What of this visit shall stay in the next plan."""
    rigs = sorted({rig for a in visit.activities for rig in a.rigs})
    people = sorted({who for a in visit.activities for who in a.staff.values()})
    with st.form("schedule-fix", border=True):
        st.markdown("**Fix this visit.** The next plan keeps what is ticked or chosen here.")
        left, middle, right = st.columns(3, vertical_alignment="bottom")
        keeps_day = left.checkbox(date_words(visit.date), value=True, key="schedule-fix-day")
        keeps_start = left.checkbox(f"start at {visit.start:%H:%M:%S}", key="schedule-fix-start")
        rig = middle.selectbox("Device", ["any", *rigs], key="schedule-fix-rig")
        person = right.selectbox("Staff member", ["any", *people], key="schedule-fix-person")
        if st.form_submit_button("Fix it so", key="schedule-fix-it"):
            row = {
                "participant": visit.participant,
                "visit": visit.file_id,
                "date": visit.date.isoformat() if keeps_day or keeps_start else "",
                "start": f"{visit.start:%Y-%m-%dT%H:%M:%S}" if keeps_start else "",
                "rig": "" if rig == "any" else rig,
                "person": "" if person == "any" else person,
            }
            fix(study, row)
