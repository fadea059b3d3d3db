"""How sure is the plan in force? It is played many times when asked for; the thinnest visits stand first."""

from __future__ import annotations

from typing import Any

import streamlit as st

from planner.documents.shown import date_words
from planner.pages import access, solving
from planner.pages.common import show_all
from planner.pages.fold import fold
from planner.pages.schedule_picture import numbered
from planner.pages.schedule_search import start
from planner.record.access import Right
from planner.schedule.in_force import in_force
from planner.schedule.model import Schedule
from planner.study.model import Study

_SECONDS = 120.0  # far more than playing takes
_MOST_ROWS = 12


def show_odds(study: Study, schedule: Schedule) -> None:
    """What playing the plan in force has shown, and a button that plays it."""
    path = in_force(study.folder)
    if path is None:
        return
    name = f"odds-{path.stem}.json"
    inside = fold("More: how sure is it?", "schedule-more-odds")
    if inside is None:
        return
    with inside:
        found: Any = solving.answered(study.folder, name)
        if found and "faults" in found:
            st.error("This plan was not played.")
            show_all(st.error, [one["message"] for one in found["faults"]])
        elif found:
            _told(schedule, found)
        else:
            st.write("Every visit of the plan is played 2000 times, with people late and efforts repeated.")
        if st.button("Play this plan", key="schedule-play", **access.deed(Right.PLAN)):
            words = ["pack", str(study.folder), "--how-sure", "--plan", str(path), "--json"]
            start(study, "count", words, _SECONDS, answer=name)


def _told(schedule: Schedule, found: Any) -> None:
    share, draws = found["all_windows"], found["draws"]
    st.write(
        f"All time points are on time in {100 * share:.0f} of 100 visits (± {100 * found['error']:.1f} from "
        f"simulating; played {draws} times). The visits with the lowest chance:"
    )
    numbers = {(v.participant, v.file_id): (n, v) for n, v in numbered(schedule).items()}
    listed = sorted(found["visits"], key=lambda one: one["all_windows"])[:_MOST_ROWS]
    rows = [
        {
            "No.": numbers[one["participant"], one["visit"]][0],
            "Participant": one["participant"],
            "Day": date_words(numbers[one["participant"], one["visit"]][1].date),
            "All time points on time in": f"{100 * one['all_windows']:.0f} of 100",
            "Alone in the laboratory": f"{100 * one['ceiling']:.0f} of 100",
        }
        for one in listed
        if (one["participant"], one["visit"]) in numbers
    ]
    st.table(rows, hide_index=True, border="horizontal")
