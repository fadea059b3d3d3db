"""The frame of all pages: each has an address of its own, the bare one leads to the first."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    st.cache_resource.clear()
    folder = tmp_path / "small"
    shutil.copytree(ROOT / "tests" / "data" / "small", folder)
    monkeypatch.setenv("TESTDAY_STUDY", str(folder))
    return AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)


def test_the_bare_address_leads_to_the_protocol_page(app: AppTest):
    app.run()
    assert not app.exception
    assert app.title[0].value == "What happens in a visit?"


@pytest.mark.parametrize("page", ["study", "schedule", "documents", "day", "adherence"])
def test_the_cautions_stand_at_the_foot_where_there_is_no_study_yet(
    app: AppTest, page: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    (tmp_path / "empty").mkdir()
    monkeypatch.setenv("TESTDAY_STUDY", str(tmp_path / "empty"))
    app.switch_page(f"planner/pages/{page}.py").run()
    assert not app.exception
    assert app.info
    assert "Paper stays valid if this app stops." in str(app.markdown[-1].value)
