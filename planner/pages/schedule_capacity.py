"""How many can we take? Places a day against devices and staff, counted when it is asked for."""

from __future__ import annotations

from datetime import date
from typing import Any

import streamlit as st

from planner.documents.capacity_chart import capacity_chart, capacity_words, places
from planner.documents.picture import screen_spec
from planner.documents.shown import date_words
from planner.pages import access, solving
from planner.pages.drawing import draw
from planner.pages.fold import fold
from planner.pages.schedule_search import CAPACITY, start
from planner.record.access import Right
from planner.study.model import Study


def show_capacity(study: Study) -> None:
    """The answer of the last count, and a button that counts anew."""
    st.subheader("How many can we take?")
    found = solving.answered(study.folder, CAPACITY)
    lines: Any = found.get("lines") if found else None
    if isinstance(lines, list) and lines:
        assert found is not None
        day = date_words(date.fromisoformat(str(found["day"])))
        st.write(f"Counted for {day}, visits of {found['protocol']}, participants who may come all day.")
        said = capacity_words(lines)
        draw(screen_spec(lambda: capacity_chart(lines)), said)
        st.write(said)
        rows = [{"With": line["change"], "Participants a day": places(line)} for line in lines]
        if inside := fold("The same as a table", "schedule-capacity-table"):
            inside.table(rows, hide_index=True, border="horizontal")
    else:
        st.write(
            "Participants a day as the laboratory is, and with one device or staff member more or fewer."
        )
    time, button = st.columns([3, 2], vertical_alignment="bottom")
    seconds = time.slider("Time to count, in seconds", 20, 300, 60, 10, key="schedule-capacity-seconds")
    can = access.deed(Right.PLAN)
    if button.button("Count the places", key="schedule-capacity", width="stretch", **can):
        words = ["pack", str(study.folder), "--capacity", "--json", "--seconds", str(seconds)]
        start(study, "count", words, seconds, answer=CAPACITY)
