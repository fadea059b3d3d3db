"""Who is where, when? The packed study as pictures; make it, stop with the best, put it in force."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import streamlit as st

from planner.documents.boards import By, day_chart, day_words, week_chart, week_words
from planner.pages import solving
from planner.pages.common import no_plan, open_study, plan_at, plan_in_force, visit_plans_of
from planner.record.store import open_store
from planner.schedule.in_force import put_in_force
from planner.schedule.model import Outcome, Schedule
from planner.schedule.verify import verify
from planner.study.model import Study

STATUS = {
    Outcome.OPTIMAL: "No better plan exists under these rules.",
    Outcome.FEASIBLE: "The plan works; it may not be the best.",
    Outcome.IMPOSSIBLE: "These demands cannot all be met.",
}
STAGES = {
    "placed": "visits placed",
    "last_day": "last day, counted from the first",
    "waiting_s": "seconds of waiting and of distance from due times, over all visits",
    "last_end_s": "seconds from opening to the last end, over all days",
    "spare_s": "seconds of spare time before the tightest window",
}


def _picture(study: Study, schedule: Schedule) -> None:
    """One day, or a week, by device, by staff member or by participant."""
    dates = list(schedule.dates)
    if not dates:
        st.info("This plan places no visit.")
        return
    when, how = st.columns([2, 3])
    asked = st.query_params.get("day")
    known = [day.isoformat() for day in dates]
    day = when.selectbox(
        "Day",
        dates,
        index=known.index(asked) if asked in known else 0,
        format_func=lambda d: f"{d:%A %d %B %Y}",
        key="schedule-day",
        persist_state="session",
    )
    st.query_params["day"] = day.isoformat()
    views: dict[str, By | None] = {
        "device": "rig",
        "staff": "person",
        "participant": "participant",
        "week": None,
    }
    view = how.segmented_control(
        "By", list(views), default="device", key="schedule-view", persist_state="session"
    )
    by = views[view or "device"]
    if by is None:
        st.altair_chart(week_chart(schedule, study, day), width="stretch")
        st.write(week_words(schedule, study, day))
        return
    st.altair_chart(day_chart(schedule, study, day, by=by), width="stretch")
    st.write(day_words(schedule, study, day, by=by))
    _table(study, schedule, day)


def _table(study: Study, schedule: Schedule, day: date) -> None:
    """The day's visits as text, numbered as in the plan."""
    numbers = {id(visit): n for n, visit in enumerate(schedule.visits, 1)}
    blind = {kind.id for kind in study.kinds if kind.blind}
    rows = [
        {
            "No.": numbers[id(visit)],
            "Participant": visit.participant,
            "Visit": f"{visit.visit} {visit.number}" if visit.number else visit.visit,
            "Condition": "" if visit.visit in blind else visit.condition or "",
            "Starts": f"{visit.start:%H:%M}",
            "Ends": f"{visit.end:%H:%M}",
            "Devices": ", ".join(sorted({rig for a in visit.activities for rig in a.rigs})),
            "Staff": ", ".join(sorted({who for a in visit.activities for who in a.staff.values()})),
        }
        for visit in schedule.on(day)
    ]
    st.dataframe(rows, hide_index=True)


def _make(study: Study) -> None:
    """Start a solve; one at a time."""
    time, button = st.columns([2, 1], vertical_alignment="bottom")
    seconds = time.slider("Time to search, in seconds", 10, 600, 60, 10, key="schedule-seconds")
    if button.button("Make the schedule", type="primary", key="schedule-pack", width="stretch"):
        began = solving.start(
            study.folder, "pack", ["pack", str(study.folder), "--seconds", str(seconds)], seconds
        )
        if not began:
            st.warning("A search is running already. Stop it first.")
        st.rerun()


@st.fragment(run_every="1s")
def _progress(folder: Path) -> None:
    """What is known so far, and a stop that keeps the best."""
    if solving.running(folder) is None:
        st.rerun()
    lines = solving.told(folder)
    st.status("Searching for a schedule", state="running")
    st.write(lines[-1] if lines else "Reading the study.")
    if st.button("Stop and keep the best", key="schedule-stop"):
        solving.stop(folder)


def _proposal(study: Study, path: Path) -> None:
    """The plan that the search made: look, then put it in force or throw it away."""
    schedule = plan_at(study, path)
    if schedule is None:
        return
    st.subheader("A new plan, not yet in force")
    _result(schedule)
    use, drop = st.columns(2)
    if use.button("Put this plan in force", type="primary", key="schedule-use", width="stretch"):
        verdict = verify(schedule, study, visit_plans_of(study))
        if verdict.broken:
            for broken in verdict.broken:
                st.error(broken.message)
            return
        put_in_force(study.folder, schedule)
        with open_store(study) as store:
            store.plan_in_force(schedule)
        solving.forget(study.folder)
        st.rerun()
    if drop.button("Throw it away", key="schedule-drop", width="stretch"):
        solving.forget(study.folder)
        st.rerun()
    _picture(study, schedule)


def _result(schedule: Schedule) -> None:
    """How good the plan is, how sure, and why not more."""
    st.write(f"{schedule.placed} of {schedule.asked} visits placed. {STATUS[schedule.status]}")
    for reason in schedule.reasons:
        where = f" ({reason.file}, line {reason.line})" if reason.file and reason.line else ""
        st.warning(f"{reason.message}{where}")
    for change in schedule.changes:
        st.markdown(f"- {change.message}")
    if schedule.not_placed:
        st.dataframe(
            [{"Participant": n.participant, "Visit": n.visit, "Why": n.message} for n in schedule.not_placed],
            hide_index=True,
        )
    with st.expander("More: how good is it?"):
        st.dataframe(
            [
                {
                    "What": STAGES.get(stage.name, stage.name),
                    "Found": stage.value,
                    "Cannot be better than": stage.bound,
                    "How sure": "proven" if stage.status is Outcome.OPTIMAL else "not proven",
                }
                for stage in schedule.stages
            ],
            hide_index=True,
        )


def page() -> None:
    """The page."""
    st.title("Who is where, when?")
    study = open_study()
    if solving.running(study.folder):
        _progress(study.folder)
        return
    path = solving.proposal(study.folder)
    if path:
        _proposal(study, path)
        return
    if solving.last(study.folder):
        st.error(
            "The last search ended without a plan. It said: " + " ".join(solving.told(study.folder)[-3:])
        )
    schedule = plan_in_force(study)
    if schedule is None:
        no_plan()
    else:
        st.write(f"Plan {schedule.version} is in force, made {schedule.made:%d %B %Y %H:%M}.")
        _picture(study, schedule)
        _result(schedule)
    _make(study)


page()
