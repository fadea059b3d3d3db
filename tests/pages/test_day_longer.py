"""Exercise that lasts longer than planned: what is measured then is offered, and not called missed before."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.clock import later
from planner.record.effort import VisitKey
from planner.record.events import Draft, Kind
from planner.record.happenings import read_happenings
from planner.record.store import open_store
from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.model import Study
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "data"
ROW = 4  # the index of the exercise among the parts


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Study:
    """The small study with rowing of 6 to 40 minutes, measured at 6 and, if it lasts, at 16 minutes."""
    folder = tmp_path / "small"
    shutil.copytree(DATA / "small", folder)
    whole = read_study(folder)
    plan = read_plan(DATA / "small-plan.json", whole)
    file = folder / "rowing.yaml"
    changed = file.read_text("utf-8")
    changed = changed.replace(
        "takes: 12 min", "takes: {about: 12 min, shortest: 8 min, longest: 40 min}"
    ).replace("at: 6 min, early: 30 s, late: 1 min}", "at: [6 min, 16 min], late: 1 min, if_reached: true}")
    file.write_text(changed, "utf-8")
    put_in_force(folder, plan)
    monkeypatch.setenv("TESTDAY_STUDY", str(folder))
    return read_study(folder)


GO = {"deed": "go", "part": ROW + 2, "number": 0, "device": ""}


def newest_mark(study: Study) -> str:
    key = VisitKey("ROW-01", "rowing", 1)
    with open_store(study) as store:
        return read_happenings(store, key).mark


def mark(study: Study, reading: str, at: datetime) -> None:
    with open_store(study) as store:
        place = (Kind.MARK, "ROW-01", "rowing", 1, "row")
        store.append([Draft(*place, reading=reading, started=at.isoformat(), by="K1", by_how="picked")])


def now(study: Study) -> datetime:
    with open_store(study) as store:
        return store.now()


@pytest.fixture
def page(study: Study) -> AppTest:
    """The Test day page on ROW-01's first rowing visit."""
    st.cache_data.clear()
    st.cache_resource.clear()
    test = AppTest.from_file(ROOT / "app.py", default_timeout=60)
    test.run()
    test.switch_page("planner/pages/day.py")
    test.query_params["day"], test.query_params["visit"] = "2027-03-02", "3"
    return test


def words(page: AppTest) -> str:
    return "\n".join(str(one.value) for one in [*page.subheader, *page.markdown, *page.warning])


def row(page: AppTest, at: str) -> dict[str, str]:
    rows = page.table[-1].value.to_dict("records")
    kept = at.replace(" ", "\u00a0")  # no line breaks between a number and its unit
    return next(
        one for one in rows if one["What"].startswith("Rowing: ") and one["What"].endswith(f"({kept})")
    )


def test_a_time_point_beyond_the_planned_end_is_offered_while_exercise_lasts(page: AppTest, study: Study):
    mark(study, "start", later(now(study), -14 * 60))
    page.run()
    page.selectbox(key="access-person").set_value("K1").run()
    assert row(page, "16 min")["State"] == "○ to come"
    assert row(page, "16 min")["Due"]
    assert row(page, "16 min")["Planned"] == ""
    assert "Next: Forced vital capacity (16\u00a0min)" in words(page).replace("\\", "")
    page.session_state["day-back-tapped"] = {**GO, "token": newest_mark(study)}
    page.run()
    assert "only if exercise lasts that long" in words(page)


def test_what_exercise_did_not_reach_is_said_to_be_that(page: AppTest, study: Study):
    mark(study, "start", later(now(study), -14 * 60))
    mark(study, "end", later(now(study), -60))
    page.run()
    assert row(page, "16 min")["State"] == "– not reached"
    assert row(page, "6 min")["State"] == "– passed over"
    assert "16 min" not in "\n".join(one.value for one in page.warning)
