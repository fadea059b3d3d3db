"""What a person sees and does on the Study page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.files.drafts import Draft
from planner.files.marks import CannotEdit
from planner.pages.study_tables import with_edits
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
SHIFTS = ("person", "days", "from", "to", "breaks")


@pytest.fixture(autouse=True)
def _fresh() -> Iterator[None]:
    st.cache_resource.clear()
    yield
    st.cache_resource.clear()


def open_page(folder: Path, monkeypatch: pytest.MonkeyPatch, view: str = "Days and rules") -> AppTest:
    monkeypatch.setenv("TESTDAY_STUDY", str(folder))
    at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60).run()
    at.switch_page("planner/pages/study.py")
    at.session_state["study-view"] = view
    at.run()
    assert not at.exception
    assert at.title[0].value == "Who comes, and with what?"
    return at


def said(at: AppTest) -> str:
    return "\n".join(str(one.value) for one in [*at.error, *at.warning, *at.info, *at.markdown])


def field(at: AppTest, label: str):
    return next(one for one in at.text_input if one.label == label)


def test_a_whole_study_is_summed_up(small: Path, monkeypatch: pytest.MonkeyPatch):
    at = open_page(small, monkeypatch)
    assert "2 participants, 6 visits asked for, 3 staff" in said(at)
    assert "Still to be filled in" not in said(at)


@pytest.mark.parametrize("text", ["", "format: 1\nname: x\nstaff: staff.csv\n", "a: [", "- 1\n"])
def test_any_folder_can_be_opened_and_says_what_is_missing(tmp_path: Path, monkeypatch, text: str):
    if text:
        (tmp_path / "study.yaml").write_text(text, "utf-8")
    for view in ("Days and rules", "Devices", "Staff", "Visits", "Text"):
        at = open_page(tmp_path, monkeypatch, view)
        words = said(at)
        assert "1. **Days and rules**" in words
        assert words.index("Name the devices") < words.index("Say when each staff member works")


def test_a_study_is_begun_from_an_empty_folder(tmp_path: Path, monkeypatch):
    at = open_page(tmp_path, monkeypatch)
    at.button(key="begin-study").click().run()
    field(at, "Time zone").set_value("America/Halifax").run()
    field(at, "First day").set_value("2027-03-01").run()
    at.session_state["study-view"] = "Staff"
    at.run()
    at.button(key="begin-staff").click().run()
    at.button(key="study-save").click().run()
    assert not at.exception
    assert (tmp_path / "study.yaml").read_text("utf-8") == (
        "format: 1\nname: new-study\ntime_zone: America/Halifax\ndays: {from: 2027-03-01}\nstaff: staff.csv\n"
    )
    assert (tmp_path / "staff.csv").read_text("utf-8") == "person,roles\n"


def test_a_rule_is_written_where_the_comments_stay(demo: Path, monkeypatch):
    before = (demo / "study.yaml").read_text("utf-8")
    at = open_page(demo, monkeypatch)
    field(at, "Waiting, at most").set_value("30 min").run()
    at.button(key="study-save").click().run()
    after = (demo / "study.yaml").read_text("utf-8")
    assert after == before.replace("at_most_waiting: 40 min", "at_most_waiting: 30 min")


def test_a_mistake_of_a_table_stands_beside_it_with_its_row(small: Path, monkeypatch):
    Draft(small, small / "shifts.csv").change("person,days,from,to\nK1,mon-fri,08:00,17:00\nK9,mon,8,9\n")
    at = open_page(small, monkeypatch, "Shifts")
    assert "mistakes in shifts.csv: shown under Shifts" in said(at)
    assert any(one.value.startswith("Row 2 (line 3)") and "K9" in one.value for one in at.error)
    assert read_study(small).people  # what is saved is still sound
    at.button(key="study-back").click().run()
    assert not at.error


def test_a_table_that_is_no_csv_is_shown_as_text(small: Path, monkeypatch):
    (small / "staff.csv").write_text('person,roles\nK1,"a"b\n', "utf-8")
    at = open_page(small, monkeypatch, "Staff")
    assert at.text_area[0].value == 'person,roles\nK1,"a"b\n'


def test_a_workbook_is_shown_and_goes_on_as_csv(small: Path, monkeypatch):
    from openpyxl import Workbook

    book = Workbook()
    for row in (["person", "roles"], ["K1", "operator;lead"], ["K2", "cheek support"], ["K3", "operator"]):
        book.active.append(row)
    book.save(small / "staff.xlsx")
    text = (small / "study.yaml").read_text("utf-8").replace("staff: staff.csv", "staff: staff.xlsx")
    (small / "study.yaml").write_text(text, "utf-8")
    at = open_page(small, monkeypatch, "Staff")
    at.button(key="copy-staff").click().run()
    assert not at.exception
    assert Draft(small, small / "staff.csv").text.splitlines()[1] == "K1,operator;lead"
    assert "staff: staff.csv" in Draft(small, small / "study.yaml").text


def test_pasted_rows_go_into_the_text():
    edits = {
        "edited_rows": {0: {"from": "09:00"}},
        "added_rows": [{"person": "K2", "days": "tue", "from": "08:00", "to": "12:00"}, {}],
        "deleted_rows": [1],
    }
    text = "person,days,from,to\nK1,mon,08:00,17:00\nK9,mon,08:00,09:00\n"
    assert with_edits(text, SHIFTS, edits) == (
        "person,days,from,to\nK1,mon,09:00,17:00\nK2,tue,08:00,12:00\n"
    )
    with_break = with_edits(text, SHIFTS, {"edited_rows": {1: {"breaks": "12:00-12:30"}}})
    assert with_break.splitlines()[::2] == ["person,days,from,to,breaks", "K9,mon,08:00,09:00,12:00-12:30"]
    with pytest.raises(CannotEdit):
        with_edits('a,b\n"x"y\n', ("a", "b"), {})
