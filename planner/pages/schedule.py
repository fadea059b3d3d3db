"""Who is where, when? The packed study as pictures; make it, stop with the best, put it in force."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.pages import access, solving
from planner.pages.arrival import title
from planner.pages.as_it_stands import is_strange
from planner.pages.common import open_study, plan_at, plan_in_force, visit_plans_of
from planner.pages.schedule_capacity import show_capacity
from planner.pages.schedule_earlier import show_earlier
from planner.pages.schedule_files import show_fixed
from planner.pages.schedule_odds import show_odds
from planner.pages.schedule_picture import show_picture
from planner.pages.schedule_result import show_changes, show_proposal, show_result, show_summary
from planner.pages.schedule_search import show_progress, show_search
from planner.pages.schedule_visit import day_of_visit, show_visit
from planner.record.access import Right
from planner.schedule.model import Schedule
from planner.study.model import Study

HERE = Path(__file__).parent


def _asked(study: Study) -> int:
    return sum(map(len, study.asked.values()))


def _says_of_files(study: Study, schedule: Schedule) -> None:
    if schedule.fingerprint and schedule.fingerprint != study.fingerprint:
        st.warning("Files changed since this plan was made. Make the schedule anew to keep to them.")


def _in_force(study: Study, schedule: Schedule) -> None:
    st.write(f"Plan {schedule.version} is in force, made {schedule.made.day} {schedule.made:%B %Y %H:%M}.")
    st.page_link(str(HERE / "documents.py"), label="See and print its sheets on the Documents page")
    _says_of_files(study, schedule)
    _shown(study, schedule)


def _shown(study: Study, schedule: Schedule, before: Schedule | None = None) -> None:
    """The plan; what stands in its way comes before any picture, and what moves by it too."""
    if is_strange(study, schedule, visit_plans_of(study, schedule)):
        return
    show_summary(schedule)
    if schedule.reasons:
        show_result(study, schedule)
    if before is not None:
        show_changes(study, before, schedule)
    day_of_visit(schedule)
    show_picture(study, schedule)
    show_visit(study, schedule, may_fix=True)
    if not schedule.reasons:
        show_result(study, schedule)


def _failed(study: Study) -> None:
    """A search that ended without a plan says why."""
    solve = solving.last(study.folder)
    if solve and solve.what in ("pack", "mend"):
        said = " ".join(solving.told(study.folder)[-3:])
        st.error(f"The last search ended without a plan. It said: {said}")
        pressed = st.button("Put this message away", key="schedule-forget", **access.deed(Right.PLAN))
        if pressed and access.may(study, Right.PLAN):
            solving.forget(study.folder)
            st.rerun()


def page() -> None:
    """The page."""
    title("Who is where, when?")
    study = open_study()
    if solving.running(study.folder):
        show_progress(study.folder, _asked(study))
        return
    schedule = plan_in_force(study)
    path = solving.proposal(study.folder)
    proposed = plan_at(study, path) if path else None
    if proposed is not None:
        show_proposal(study, proposed)
        _shown(study, proposed, schedule)
    elif schedule is not None:
        _failed(study)
        _in_force(study, schedule)
    else:
        _failed(study)
        st.info(
            f"No plan is in force yet. {_asked(study)} visits of {len(study.participants)} participants are "
            "asked for. Make the schedule below; nothing is in force before you say so."
        )
    show_search(study, proposed or schedule)
    show_fixed(study)
    if schedule is not None and proposed is None:
        show_odds(study, schedule)
        show_earlier(study, schedule)
    show_capacity(study)


page()
