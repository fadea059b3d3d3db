"""The title goes ahead of the page, at an arrival only."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.pages import arrival


def two_pages() -> None:
    import streamlit as st

    from planner.pages.arrival import title

    title("Second" if st.session_state.get("second") else "First")
    st.session_state["below"] = st.session_state.get("below", 0) + 1
    st.checkbox("Second page", key="second")
    st.button("A click")


def test_the_rest_of_a_page_is_held_back_at_an_arrival_and_at_no_click(monkeypatch: pytest.MonkeyPatch):
    waited: list[tuple[float, int]] = []

    def wait(seconds: float) -> None:
        waited.append((seconds, st.session_state.get("below", 0)))

    monkeypatch.setattr(arrival, "time", SimpleNamespace(sleep=wait))
    at = AppTest.from_function(two_pages).run()
    assert (at.title[0].value, len(waited)) == ("First", 1)
    at.button[0].click().run()
    assert len(waited) == 1, "who clicks on the page waits for nothing"
    at.checkbox[0].check().run()
    assert (at.title[0].value, len(waited)) == ("Second", 2)
    at.checkbox[0].uncheck().run()
    assert (at.title[0].value, len(waited)) == ("First", 3)
    assert [drawn for _, drawn in waited] == [0, 2, 3], "before anything else of the page"
    assert all(seconds == arrival.AHEAD_S for seconds, _ in waited)
