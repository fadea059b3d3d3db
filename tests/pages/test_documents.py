"""The Documents page as a person sees it: every paper as it will print."""

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
def opened(small: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., AppTest]:
    """Opens the page on the small study."""
    monkeypatch.setenv("TESTDAY_STUDY", str(small))
    st.cache_resource.clear()
    st.cache_data.clear()

    def open_it(*, planned: bool = True) -> AppTest:
        if planned:
            put_in_force(small, read_plan(PLAN, read_study(small)))
        at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=120)
        at.switch_page("planner/pages/documents.py").run()
        assert not at.exception
        assert at.title[0].value == "What do people hold in their hands?"
        return at

    return open_it


def names(at: AppTest) -> list[str]:
    return list(at.radio(key="documents-name").options)


def test_without_a_plan_it_says_where_to_make_one(opened: Callable[..., AppTest]):
    assert "Make one on the Schedule page" in opened(planned=False).info[0].value


def test_a_day_has_its_papers_and_shows_the_first_as_it_prints(opened: Callable[..., AppTest]):
    at = opened()
    assert at.selectbox(key="documents-day").value.isoformat() == "2027-03-01"
    listed = names(at)
    assert any("board" in name for name in listed)
    assert any("run" in name or "sheet" in name for name in listed)
    assert len(at.get("image")) >= 1
    assert any("Download" in str(button.proto.label) for button in at.get("download_button"))


def test_one_participant_gets_theirs_alone(opened: Callable[..., AppTest]):
    at = opened()
    at.selectbox(key="documents-for").set_value("ROW-01")
    at.selectbox(key="documents-day").set_value(None).run()
    assert not at.exception
    assert names(at)
    assert not any("ROW-02" in name for name in names(at))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_paper_of_a_day_can_be_looked_at(opened: Callable[..., AppTest], paper: str):
    at = opened()
    at.radio(key="documents-paper").set_value(paper).run()
    for name in names(at):
        at.radio(key="documents-name").set_value(name).run()
        assert not at.exception, name
        described = "\n".join(str(block.value) for block in at.markdown)
        assert at.get("image") or "opens in another program" in described, name


def test_no_name_of_a_paper_holds_a_blind_condition(opened: Callable[..., AppTest]):
    at = opened()
    at.selectbox(key="documents-day").set_value(None).run()
    assert not any("cold" in name or "mild" in name for name in names(at))


def test_all_papers_come_in_one_archive(opened: Callable[..., AppTest]):
    at = opened()
    at.button(key="documents-make").click().run()
    assert not at.exception
    labels = [str(button.proto.label) for button in at.get("download_button")]
    assert "Download them (zip)" in labels


def test_two_versions_of_a_protocol_are_compared(opened: Callable[..., AppTest], small: Path):
    at = opened()
    now = (small / "rowing.yaml").read_text("utf-8")
    for older, said in ((now, "Nothing changed."), (now.replace("takes: 12 min", "takes: 15 min"), "15 min")):
        at.file_uploader(key="documents-old").set_value(("rowing-1.yaml", older.encode(), "text/yaml"))
        at.selectbox(key="documents-new").set_value("rowing.yaml").run()
        assert not at.exception
        assert any(said in str(block.value) for block in at.markdown), said
