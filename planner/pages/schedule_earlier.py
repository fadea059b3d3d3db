"""Going back to a plan that was in force before: as a new plan, so that nothing that was is overwritten."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.pages import access
from planner.pages.common import plan_at
from planner.pages.fold import fold
from planner.pages.schedule_result import put_in_use
from planner.record.access import Right
from planner.schedule.in_force import again, in_force, kept_plans
from planner.schedule.model import Schedule
from planner.study.model import Study


def show_earlier(study: Study, schedule: Schedule) -> None:
    """The plans that were in force before, and a button that goes back to one."""
    earlier = [path for path in kept_plans(study.folder) if path != in_force(study.folder)]
    if not earlier:
        return
    inside = fold("More: go back to an earlier plan", "schedule-more-earlier")
    if inside is None:
        return
    with inside:
        chosen = st.selectbox("Earlier plan", earlier, format_func=_name, key="schedule-earlier")
        before = plan_at(study, chosen) if chosen else None
        if before is None:
            return
        following = again(before, schedule)
        st.write(
            f"{before.placed} of {before.asked} visits placed, "
            f"made {before.made.day} {before.made:%B %Y %H:%M}. "
            f"It comes back as plan {following.version}; {len(following.changes)} changes against plan "
            f"{schedule.version}, which stays kept."
        )
        if st.button("Go back to this plan", key="schedule-go-back", **access.deed(Right.PLAN)):
            put_in_use(study, following)


def _name(path: Path) -> str:
    return f"plan {path.stem.removeprefix('plan-')}"
