"""Whether a plan is one of the study as its files stand now: told before it is shown or printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import streamlit as st

from planner.pages.common import show_all
from planner.pages.drawing import plan_mark
from planner.schedule.as_it_stands import broken_as_it_stands, files_changed, strange
from planner.schedule.model import Broken, Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan

SCHEDULE = str(Path(__file__).parent / "schedule.py")
STRANGE = "**The visits of this plan are not those that the study asks for.** Make the schedule anew."
_BREAKS = "**This plan breaks rules of the study as its files stand now.** Make the schedule anew first."
_MOST_BROKEN = 12  # told at once


@st.cache_resource(max_entries=8, show_spinner=False)
def broken_now(
    _study: Study, _schedule: Schedule, _plans: Mapping[str, VisitPlan], mark: object
) -> tuple[Broken, ...]:
    """What the plan breaks in the study as its files stand now."""
    return broken_as_it_stands(_schedule, _study, _plans)


def is_strange(study: Study, schedule: Schedule, plans: Mapping[str, VisitPlan]) -> bool:
    """Whether its visits are others than the study asks for, which is told: none of it can be shown."""
    broken = broken_now(study, schedule, plans, plan_mark(study, schedule))
    if not strange(broken):
        return False
    st.error(STRANGE)
    show_all(st.error, _some([one.message for one in broken]))
    return True


def stands(study: Study, schedule: Schedule, plans: Mapping[str, VisitPlan]) -> bool:
    """Whether papers can be made of the plan; what it breaks in the study as its files stand now is told."""
    if is_strange(study, schedule, plans):
        st.page_link(SCHEDULE, label="Go to the Schedule page")
        return False
    if broken := broken_now(study, schedule, plans, plan_mark(study, schedule)):
        st.warning(_BREAKS)
        show_all(st.warning, _some([one.message for one in broken]))
        st.page_link(SCHEDULE, label="Go to the Schedule page")
    elif files_changed(schedule, study):
        st.warning("Files changed since this plan was made. It breaks no rule.")
    return True


def _some(messages: Sequence[str]) -> list[str]:
    """The first of them, and how many more there are."""
    more = len(messages) - _MOST_BROKEN
    return [*messages[:_MOST_BROKEN], *([f"and {more} more"] if more > 0 else [])]
