"""Before papers are shown: whether the plan is one of the study as its files stand now."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import streamlit as st

from planner.pages.common import show_all
from planner.pages.documents_made import Plans, broken_now
from planner.schedule.as_it_stands import files_changed, strange
from planner.schedule.model import Schedule
from planner.study.model import Study

HERE = Path(__file__).parent
_ANEW = "Make the schedule anew on the Schedule page before anything is printed."
_MOST_BROKEN = 12  # told at once


def stands(study: Study, schedule: Schedule, plans: Plans, mark: object) -> bool:
    """Whether papers can be made of the plan; what it breaks in the study as its files stand now is told."""
    broken = broken_now(study, schedule, plans, mark)
    odd = strange(broken)
    if odd:
        st.error(f"**The visits of this plan are not those that the study asks for.** {_ANEW}")
    elif broken:
        st.warning(f"**This plan breaks rules of the study as its files stand now.** {_ANEW}")
    elif files_changed(schedule, study):
        st.warning("Files changed since this plan was made. It breaks no rule.")
    if broken:
        show_all(st.error if odd else st.warning, _some([one.message for one in broken]))
        st.page_link(str(HERE / "schedule.py"), label="Go to the Schedule page")
    return not odd


def _some(messages: Sequence[str]) -> list[str]:
    """The first of them, and how many more there are."""
    more = len(messages) - _MOST_BROKEN
    return [*messages[:_MOST_BROKEN], *([f"and {more} more"] if more > 0 else [])]
