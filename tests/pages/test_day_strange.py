"""The Test day page where the study's files have no longer what the plan in force was made of."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.pages.day_deeds import last_words
from planner.record.dry_run import DryRun, begin
from planner.record.last_deed import LastDeed
from planner.record.rehearse import rehearse
from planner.record.store import open_store
from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "tests" / "data" / "small-plan.json"
TABLES = ("participants.csv", "availability.csv")
RENAMED = {
    "participant": (TABLES, "ROW-01", "ROW-09", 1),
    "kind of visit": (("study.yaml", "availability.csv"), r"\bpractice\b(?!\.yaml)", "lesson", 1),
    "step": (("practice.yaml",), "id: learn", "id: teach", 1),
    "recorded step": (("rowing.yaml",), r"\brow\b", "pull", 3),
}


@pytest.fixture
def renamed(small: Path, monkeypatch: pytest.MonkeyPatch):
    """Opens the page after what is so called was renamed in the files; gives it with the visit's number."""
    study = read_study(small)
    plan = read_plan(PLAN, study)
    put_in_force(small, plan)

    def open_it(what: str, *, folds: tuple[str, ...] = ()) -> AppTest:
        files, old, new, number = RENAMED[what]
        for name in files:
            path = small / name
            path.write_text(re.sub(old, new, path.read_text("utf-8")), "utf-8")
        st.cache_resource.clear()
        st.cache_data.clear()
        monkeypatch.setenv("TESTDAY_STUDY", str(small))
        app = AppTest.from_file(str(ROOT / "app.py"), default_timeout=120).run()
        for fold in folds:
            app.session_state[fold] = True
        app.session_state["access-person"] = "K1"
        app.switch_page("planner/pages/day.py")
        app.query_params["visit"] = str(number)
        return app.run()

    return open_it


def errors(app: AppTest) -> str:
    return "\n".join(str(one.value) for one in app.error)


@pytest.mark.parametrize(
    ("what", "why"),
    [
        ("participant", "the study does not ask ROW-01 for anything: nobody has this code"),
        ("kind of visit", "the study does not ask ROW-01 for a visit practice"),
    ],
)
def test_a_visit_that_is_not_asked_for_any_more_is_shown_from_the_plan(renamed, what: str, why: str):
    app = renamed(what)
    assert not app.exception
    assert "is not the one that the study asks for" in errors(app)
    assert why in errors(app)
    shown = app.table[-1].value
    assert list(shown["What"])[:2] == ["step welcome", "fvc of step learn"]
    assert shown["Planned"].iloc[0] == "08:05"
    assert app.selectbox(key="access-person").value == "K1"


def test_other_visits_of_that_plan_stay_as_they_are(renamed):
    app = renamed("participant")
    other = next(label for label in app.selectbox(key="day-visit-2027-03-01").options if "ROW-02" in label)
    app.selectbox(key="day-visit-2027-03-01").set_value(int(other.partition(":")[0])).run()
    assert not app.exception
    assert errors(app) == ""
    assert app.subheader[0].value.startswith("Now: ")


def test_a_step_that_has_another_name_is_named_beside_what_the_files_have(renamed):
    app = renamed("step")
    assert not app.exception
    assert "fvc of step learn is not in the protocol" in errors(app)
    rows = app.table[-1].value
    gone = rows[rows["State"] == "– in the plan alone"]
    assert list(gone["What"]) == ["fvc of step learn", "mep of step learn"]
    assert app.subheader[0].value.startswith("Now: "), "what the files ask for can be recorded"


def test_what_was_recorded_under_an_earlier_name_can_be_taken_back(renamed, small: Path):
    study = read_study(small)
    played = rehearse(study, read_plan(PLAN, study), visit_plans(study), seed=1)
    own = [line for line in played if line.key.participant == "ROW-01" and line.key.number == 1]
    upto = [line.step for line in own].index("row")
    with open_store(study) as store:
        store.take([replace(line, note="") for line in own[: upto + 1]], by="K1")
    assert not renamed("recorded step").exception
    deed = LastDeed((1,), "row", None, None, None, "start")
    protocol = read_study(small).protocols["rowing.yaml"]
    scene = SimpleNamespace(plan=SimpleNamespace(protocol=protocol), last_deed=lambda: deed)
    assert last_words(scene) == "the start of row"  # type: ignore[arg-type]


def test_a_dry_run_plays_the_visits_that_are_asked_for(renamed, small: Path):
    study = read_study(small)
    first = read_plan(PLAN, study).visits[0]
    begin(study, DryRun(first.start, first.end, 1.0, played=True, by_hand=1))
    assert not renamed("participant").exception


def test_no_papers_are_offered_where_a_visit_is_not_the_one_asked_for(renamed):
    app = renamed("step", folds=("day-more-trouble",))
    assert not app.exception
    assert "The visits of this plan are not those that the study asks for" in errors(app)
    assert "day-sheets" not in {one.key for one in app.get("download_button")}
