"""What a person sees and does on the Study page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.files.drafts import Draft
from planner.files.marks import CannotEdit
from planner.pages import protocol_sheets as study_text
from planner.pages.study_fields import OPEN
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


def test_the_protocols_that_a_visit_may_name_are_listed(demo: Path, small: Path, monkeypatch):
    words = said(open_page(small, monkeypatch, "Visits"))
    assert "Protocols that there are: practice.yaml, rowing.yaml" in words
    assert "../protocols/cold-air-rowing.yaml" in said(open_page(demo, monkeypatch, "Visits"))


@pytest.mark.parametrize("text", ["format: 1\nname: x\nstaff: staff.csv\n", "a: [", "- 1\n"])
def test_any_folder_can_be_opened_and_says_what_is_missing(tmp_path: Path, monkeypatch, text: str):
    (tmp_path / "study.yaml").write_text(text, "utf-8")
    for view in ("Days and rules", "Devices", "Staff", "Visits", "Text"):
        at = open_page(tmp_path, monkeypatch, view)
        words = said(at)
        assert "1. **Days and rules**" in words
        assert words.index("Name the devices") < words.index("Say when each staff member works")


def test_a_study_is_begun_from_an_empty_folder(tmp_path: Path, monkeypatch):
    folder = tmp_path / "our study"
    folder.mkdir()
    at = open_page(folder, monkeypatch)
    assert "There is no study here yet. Begin it" in said(at)
    assert not at.error
    at.button(key="begin-study").click().run()
    assert not at.error, "what is not filled in yet is no mistake"
    assert "1. **Days and rules**: Say in which time zone" in said(at)
    field(at, "Time zone").set_value("America/Halifax").run()
    field(at, "First day").set_value("2027-03-01").run()
    at.session_state["study-view"] = "Staff"
    at.run()
    at.button(key="begin-staff").click().run()
    at.button(key="study-save").click().run()
    assert not at.exception
    assert (folder / "study.yaml").read_text("utf-8") == (
        "format: 1\nname: our-study\ntime_zone: America/Halifax\ndays: {from: 2027-03-01}\nstaff: staff.csv\n"
    )
    assert (folder / "staff.csv").read_text("utf-8") == "person,roles\n"


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
    assert "mistakes, shown under Shifts" in said(at)
    assert any("Row 2 (K9): " in one.value for one in at.error)
    assert read_study(small).people  # what is saved is still sound
    at.button(key="study-back").click().run()
    assert not at.error


def test_a_warning_of_a_table_stands_beside_it_too(small: Path, monkeypatch):
    table = small / "staff.csv"
    table.write_text(table.read_text("utf-8") + '"K9","operator, cheek support"\n', "utf-8")
    at = open_page(small, monkeypatch, "Staff")
    assert any("'operator, cheek support'" in one.value for one in at.warning)


def test_a_saved_study_without_a_plan_leads_to_the_schedule(small: Path, monkeypatch):
    at = open_page(small, monkeypatch)
    assert "Next: make the schedule" in [one.label for one in at.get("page_link")]


def test_what_a_protocol_asks_for_in_vain_leads_to_both_ways_out(small: Path, monkeypatch):
    for path in small.glob("*.yaml"):
        if path.name != "study.yaml":
            path.write_text(path.read_text("utf-8").replace("[operator]", "[spotter]"), "utf-8")
    at = open_page(small, monkeypatch)
    assert any("Add it to the study, or change the protocol." in one.value for one in at.error)
    assert "Go to the Protocol page" in [one.label for one in at.get("page_link")]


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


def test_it_shows_who_is_there_when_and_says_it_in_words(small: Path, monkeypatch: pytest.MonkeyPatch):
    at = open_page(small, monkeypatch)
    at.session_state["study-in-words"] = True
    at.run()
    words = [one.value for one in at.markdown if "participants may come on a day" in one.value]
    assert len(words) == 1


@pytest.mark.parametrize("page", ["schedule", "documents", "adherence"])
def test_without_a_study_every_page_leads_to_where_it_begins(tmp_path: Path, monkeypatch, page: str):
    at = open_page(tmp_path, monkeypatch)
    at.switch_page(f"planner/pages/{page}.py").run()
    assert not at.exception
    assert not at.error
    assert "There is no study here yet. Begin it on the Study page" in at.info[0].value


def test_rows_are_pasted_into_a_table(small: Path, monkeypatch):
    at = open_page(small, monkeypatch, "Participants")
    at.session_state["paste-open-table-participants.csv"] = True
    at.run()
    (box,) = [one for one in at.text_area if one.label.startswith("Rows to add")]
    box.set_value("ROW-11\nROW-12\tA").run()
    next(one for one in at.button if one.label == "Add these rows").click().run()
    at.button(key="study-save").click().run()
    assert not at.exception
    assert {"ROW-11", "ROW-12"} <= set(read_study(small).participants)
    assert (small / "participants.csv").read_text("utf-8").count("ROW-11") == 1


def test_shifts_pasted_as_a_spreadsheet_shows_them_are_no_mistakes(small: Path, monkeypatch):
    at = open_page(small, monkeypatch, "Shifts")
    at.session_state["paste-open-table-shifts.csv"] = True
    at.run()
    at.text_area(key="paste-table-shifts.csv").set_value("K1\t2027-3-2\t8:00\t16:00:00\t12:00–12:30")
    at.button(key="paste-add-table-shifts.csv").click().run()
    assert not at.error
    at.button(key="study-save").click().run()
    assert (small / "shifts.csv").read_text("utf-8").endswith("K1,2027-03-02,08:00,16:00,12:00-12:30\n")


def test_nobody_is_told_of_shifts_before_there_are_any(small: Path, monkeypatch):
    Draft(small, small / "shifts.csv").change("person,days,from,to,breaks\n")
    at = open_page(small, monkeypatch, "Staff")
    assert "**Shifts**: The table has no line yet" in said(at)
    assert "has no shift" not in said(at)


def test_opening_hours_may_be_written_as_people_say_them(small: Path, monkeypatch):
    study = Draft(small, small / "study.yaml")
    study.change(
        study_text.with_edits(
            study.text, OPEN, {"added_rows": [{"Days": "Sat - Sun", "Open": "9:00 to 12:00"}]}
        )
    )
    assert "sat-sun: 09:00-12:00" in study.text.replace('"', "").replace("'", "")


def test_a_visit_is_added_by_the_protocol_that_none_names_yet(small: Path, monkeypatch):
    (small / "second.yaml").write_text((small / "rowing.yaml").read_text("utf-8"), "utf-8")
    at = open_page(small, monkeypatch, "Visits")
    assert "add-visit-rowing.yaml" not in [one.key for one in at.button]
    at.button(key="add-visit-second.yaml").click().run()
    assert "id: second" in Draft(small, small / "study.yaml").text
    assert "add-visit-second.yaml" not in [one.key for one in at.button]


def test_the_time_zone_of_the_browser_is_a_first_guess(tmp_path: Path, monkeypatch):
    monkeypatch.setattr(type(st.context), "timezone", property(lambda self: "Europe/Oslo"))
    at = open_page(tmp_path, monkeypatch)
    at.button(key="begin-study").click().run()
    assert field(at, "Time zone").value == "Europe/Oslo"


def test_beside_a_field_no_key_of_the_file_is_named(small: Path, monkeypatch):
    at = open_page(small, monkeypatch)
    field(at, "Waiting, at most").set_value("half an hour").run()
    assert any(one.value.startswith("'half an hour' is not a duration") for one in at.error), said(at)
