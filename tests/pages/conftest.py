"""The app on the small study, without a server: a page opened as a person opens it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "tests" / "data" / "small-plan.json"


@pytest.fixture
def open_small(small: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., AppTest]:
    """Opens a page by its file and title; the study's plan is in force unless told otherwise."""
    monkeypatch.setenv("TESTDAY_STUDY", str(small))
    st.cache_resource.clear()
    st.cache_data.clear()

    def open_it(file: str, title: str, /, *, planned: bool = True, **query: str) -> AppTest:
        if planned:
            put_in_force(small, read_plan(PLAN, read_study(small)))
        at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=120)
        for name, value in query.items():
            at.query_params[name] = value
        at.switch_page(f"planner/pages/{file}.py").run()
        assert not at.exception
        assert at.title[0].value == title
        return at

    return open_it
