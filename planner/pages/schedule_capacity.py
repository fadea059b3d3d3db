"""How many can we take? Places a day against devices and staff, counted when it is asked for."""

from __future__ import annotations

from typing import Any

import streamlit as st

from planner.documents.capacity_chart import capacity_chart, capacity_words, places
from planner.pages import solving
from planner.pages.schedule_search import CAPACITY, start
from planner.study.model import Study


def show_capacity(study: Study) -> None:
    """The answer of the last count, and a button that counts anew."""
    st.subheader("How many can we take?")
    found = solving.answered(study.folder, CAPACITY)
    lines: Any = found.get("lines") if found else None
    if isinstance(lines, list) and lines:
        assert found is not None
        st.write(
            f"Counted for {found['day']}, visits of {found['protocol']}, participants who may come all day."
        )
        st.altair_chart(capacity_chart(lines), width="stretch", alt="Participants a day, by what is changed")
        st.write(capacity_words(lines))
        rows = [{"With": line["change"], "Participants a day": places(line)} for line in lines]
        with st.expander("The same as a table"):
            st.table(rows, hide_index=True, border="horizontal")
    else:
        st.write(
            "Participants a day as the laboratory is, and with one device or staff member more or fewer."
        )
    time, button = st.columns([3, 2], vertical_alignment="bottom")
    seconds = time.slider("Time to count, in seconds", 20, 300, 60, 10, key="schedule-capacity-seconds")
    if button.button("Count the places", key="schedule-capacity", width="stretch"):
        words = ["pack", str(study.folder), "--capacity", "--json", "--seconds", str(seconds)]
        start(study, "count", words, seconds, answer=CAPACITY)
