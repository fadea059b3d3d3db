"""A visit of the plan that is no longer the one that the study's files ask for."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st

from planner.pages.as_it_stands import SCHEDULE
from planner.pages.common import show_all
from planner.pages.drawing import Mark, plan_mark
from planner.schedule.as_it_stands import strange_visit
from planner.schedule.model import Activity, PlacedVisit, Schedule
from planner.schedule.rules.case import activity_words
from planner.study.model import Study
from planner.timing.plan import VisitPlan

STRANGE = "**This visit of the plan is not the one that the study asks for.** Make the schedule anew."


def show_strange(
    study: Study, schedule: Schedule, plans: Mapping[str, VisitPlan], placed: PlacedVisit
) -> None:
    """What makes the visit another than the study asks for; nothing where it is that one."""
    found = _strange(
        placed, schedule, study, plans, placed.participant, placed.file_id, plan_mark(study, schedule)
    )
    if found:
        st.error(STRANGE)
        show_all(st.error, found)
        st.page_link(SCHEDULE, label="Go to the Schedule page")


@st.cache_resource(max_entries=32, show_spinner=False)
def _strange(
    _placed: PlacedVisit,
    _schedule: Schedule,
    _study: Study,
    _plans: Mapping[str, VisitPlan],
    participant: str,
    visit: str,
    mark: Mark,
) -> list[str]:
    """Judged once for each state of the files: a tap does not wait for it."""
    return [one.message for one in strange_visit(_placed, _schedule, _study, _plans)]


def show_as_planned(placed: PlacedVisit) -> None:
    """The visit from the plan alone: the files no longer say what its steps are called."""
    st.subheader("As planned; nothing can be recorded of it here", anchor=False)
    st.table(
        [_row(one) for one in placed.activities], hide_index=True, alt="Every part of the visit as planned"
    )


def _row(one: Activity) -> dict[str, str]:
    return {
        "Planned": f"{one.first_effort or one.start:%H:%M}",
        "What": activity_words(one),
        "Devices": ", ".join(one.rigs),
        "Staff": ", ".join(f"{role} {code}" for role, code in one.staff.items()),
    }
