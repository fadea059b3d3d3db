"""What a person sees and does on the Protocol page."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.files.drafts import Draft
from planner.files.marks import CannotEdit
from planner.pages import protocol_forms
from planner.protocol.read import read_protocol

ROOT = Path(__file__).parents[2]
TIGHT = """\
format: 1
name: tight
title: Too much in too little time   # kept
version: "1.0"
manoeuvres:
  fvc: {title: FVC, rig: spirometer, staff: [operator], prepare: 60 s, effort: 20 s, rest: 30 s, efforts: 3}
visit:
  - {id: row, title: Rowing, exercise: true, takes: 10 min, staff: [lead]}
  # as soon as can be
  - id: after
    title: After rowing
    measure: fvc
    due: {after: row, at: [30 s], late: 10 s}
"""


@pytest.fixture(autouse=True)
def _fresh() -> Iterator[None]:
    st.cache_resource.clear()
    yield
    st.cache_resource.clear()


@pytest.fixture
def page(small: Path, monkeypatch: pytest.MonkeyPatch) -> AppTest:
    monkeypatch.setenv("TESTDAY_STUDY", str(small))
    at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    at.session_state["protocol-file"] = small / "rowing.yaml"
    return at


def run(at: AppTest, view: str = "Parts") -> AppTest:
    at.session_state["protocol-view"] = view
    at.run()
    assert not at.exception
    return at


def field(at: AppTest, label: str, where: str = "visit"):
    return next(one for one in at.text_input if one.label == label and f"('{where}'" in one.key)


def said(at: AppTest) -> str:
    return "\n".join(str(one.value) for one in [*at.error, *at.warning, *at.info, *at.markdown])


def test_the_page_answers_its_question_with_a_picture_and_its_words(page: AppTest):
    run(page)
    assert page.title[0].value == "What happens in a visit?"
    page.session_state["protocol-in-words"] = True
    run(page)
    assert any("Rowing" in one.value and "on time in" in one.value for one in page.markdown), said(page)
    assert "Everything is saved." in said(page)


def test_a_field_changes_the_draft_and_saving_keeps_every_comment(page: AppTest, small: Path):
    file = small / "rowing.yaml"
    file.write_text("# ours\n" + file.read_text("utf-8"), "utf-8")
    before = file.read_text("utf-8")
    run(page)
    field(page, "Takes").set_value("7 min").run()
    assert file.read_text("utf-8") == before
    assert "Not saved yet: rowing.yaml" in said(page)
    page.button(key="protocol-save").click().run()
    assert file.read_text("utf-8") == before.replace("takes: 5 min", "takes: 7 min", 1)
    page.button(key="protocol-undo").click().run()
    assert field(page, "Takes").value == "5 min"


def test_a_mistake_stands_beneath_its_field_and_what_was_typed_stays(page: AppTest, small: Path):
    run(page)
    field(page, "Takes").set_value("5:00").run()
    assert field(page, "Takes").value == "5:00"
    assert [one.value for one in page.error if "5:00" in one.value]
    assert "before the mistakes below" in "\n".join(one.value for one in page.caption)
    again = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)  # the tab was closed meanwhile
    again.session_state["protocol-file"] = small / "rowing.yaml"
    assert field(run(again), "Takes").value == "5:00"


def test_the_text_beside_the_forms_is_the_same_file(page: AppTest):
    run(page, "Text")
    page.text_area[0].set_value(page.text_area[0].value.replace("takes: 12 min", "takes: 14 min")).run()
    page.session_state["choose-visit"] = 2
    assert field(run(page), "Takes").value == "14 min"


def test_a_text_that_cannot_be_read_is_kept_with_the_line_of_its_mistake(page: AppTest, small: Path):
    run(page, "Text")
    page.text_area[0].set_value("format: 1\nname: [x\n").run()
    assert any("line 2" in one.value for one in page.error)
    assert Draft(small, small / "rowing.yaml").text == "format: 1\nname: [x\n"
    assert "cannot be shown as forms" in said(run(page, "Windows"))


def test_a_part_and_a_manoeuvre_are_added_by_form_and_named(page: AppTest, small: Path):
    run(page)
    page.button(key="add-step").click().run()
    field(page, "Title").set_value("Warm-down").run()
    field(page, "Short name").set_value("warm-down").run()
    run(page, "Manoeuvres")
    page.button(key="add-manoeuvre").click().run()
    field(page, "Short name", "manoeuvres").set_value("svc").run()
    field(page, "Efforts, at most", "manoeuvres").set_value("4").run()
    page.button(key="protocol-save").click().run()
    protocol = read_protocol(small / "rowing.yaml")
    assert protocol.visit[-1].title == "Warm-down"
    assert protocol.visit[-1].id == "warm-down"
    assert (protocol.manoeuvres["svc"].at_least, protocol.manoeuvres["svc"].at_most) == (3, 4)


def test_parts_change_places_and_are_taken_away(page: AppTest, small: Path):
    run(page)
    ids = [step.id for step in read_protocol(small / "rowing.yaml").visit]
    page.button(key="later-visit").click().run()
    assert page.session_state["choose-visit"] == 1
    page.button(key="away-visit").click().run()
    page.button(key="protocol-save").click().run()
    assert [step.id for step in read_protocol(small / "rowing.yaml").visit] == ids[1:]


def test_why_a_part_cannot_be_taken_away_is_said_at_once(page: AppTest, monkeypatch: pytest.MonkeyPatch):
    def refuse(text: str, path: object) -> str:
        raise CannotEdit("it is written in a way that this page cannot change")

    monkeypatch.setattr(protocol_forms, "without", refuse)
    run(page).button(key="away-visit").click().run()
    assert "it is written in a way that this page cannot change" in said(page)


def test_a_contradiction_is_mended_by_a_suggestion(page: AppTest, small: Path):
    (small / "tight.yaml").write_text(TIGHT, "utf-8")
    page.session_state["protocol-file"] = small / "tight.yaml"
    run(page, "Chances")
    assert page.error
    page.toggle(key="suggest").set_value(True).run()
    mending = [one for one in page.button if one.label == "Make this change"]
    assert mending
    mending[0].click().run()
    assert not page.exception
    assert not page.error
    page.button(key="protocol-save").click().run()
    after = (small / "tight.yaml").read_text("utf-8")
    assert "# kept" in after
    assert "# as soon as can be" in after
    assert len(set(after.splitlines()) - set(TIGHT.splitlines())) == 1


def test_two_versions_are_compared(page: AppTest):
    run(page)
    field(page, "Takes").set_value("7 min").run()
    page.session_state["compare-with"] = "the file as it is saved"
    run(page, "Compare")
    rows = page.table[0].value.values.tolist()
    assert {tuple(row[1:]) for row in rows} == {("5 min", "7 min")}
    assert all("welcome" in row[0] and "takes" in row[0] for row in rows)


@pytest.mark.parametrize("begin", ["an empty visit", "six-minute-walk"])
def test_a_new_protocol_starts_from_one_that_came_with_the_program(page: AppTest, small: Path, begin: str):
    run(page, "New")
    page.selectbox(key="new-from").set_value(begin).run()
    page.text_input(key="new-name").set_value("ours").run()
    page.button(key="new-start").click().run()
    assert read_protocol(small / "ours.yaml").name == "ours"
    assert page.selectbox(key="protocol-file").value == small / "ours.yaml"


def test_a_new_protocol_never_replaces_another(page: AppTest, small: Path):
    before = (small / "rowing.yaml").read_bytes()
    run(page, "New")
    for name in ("rowing", "study", "a/b", ""):
        page.text_input(key="new-name").set_value(name).run()
        page.button(key="new-start").click().run()
        assert page.error
    assert (small / "rowing.yaml").read_bytes() == before


def test_a_study_without_a_protocol_says_what_to_do(page: AppTest, small: Path):
    for name in ("rowing.yaml", "practice.yaml"):
        (small / name).unlink()
    page.run()
    assert not page.exception
    assert "no protocol yet" in said(page)


def test_a_file_changed_by_somebody_else_is_said(page: AppTest, small: Path):
    run(page)
    field(page, "Takes").set_value("7 min").run()
    (small / "rowing.yaml").write_text(TIGHT, "utf-8")
    page.run()
    assert any("changed by somebody else" in one.value for one in page.warning)


def test_a_mistake_says_where_it_is_and_leads_there(page: AppTest, small: Path):
    Draft(small, small / "tight.yaml").change(TIGHT.replace("prepare: 60 s", "prepare: 1:00"))
    (small / "tight.yaml").write_text(TIGHT, "utf-8")
    page.session_state["protocol-file"] = small / "tight.yaml"
    run(page)
    assert any("(manoeuvre fvc):** '1:00' is not a duration" in one.value for one in page.error), said(page)
    page.button(key="go-('manoeuvres', 'fvc')").click().run()
    assert field(page, "Getting ready", "manoeuvres").value == "1:00"


def test_a_page_names_no_command(page: AppTest, small: Path):
    least = "efforts: {at_least: 2, at_most: 8}, enough: [{reading: FVC, largest: 2, within: 0.150 L}]"
    reading = "readings: {FVC: {unit: L, typical: 4.80 L, spread: 2 %}}"
    loose = TIGHT.replace("at: [30 s], late: 10 s", "at: [1 min, 5 min], late: 30 s")
    loose = loose.replace("efforts: 3", f"{least}, {reading}")
    (small / "tight.yaml").write_text(loose, "utf-8")
    page.session_state["protocol-file"] = small / "tight.yaml"
    run(page)
    assert "only if blocks end early" in said(page)
    assert "begins no earlier than" not in said(page), "how it is counted stands behind a fold"
    page.session_state["protocol-why"] = True
    run(page)
    assert "begins no earlier than" in said(page)
    assert "testday" not in said(page)
    assert "Under *Chances*" in said(page)


def test_a_manoeuvre_that_comes_with_the_program_is_taken_over_whole(page: AppTest, small: Path):
    (small / "tight.yaml").write_text(TIGHT, "utf-8")
    page.session_state["protocol-file"] = small / "tight.yaml"
    run(page, "Manoeuvres")
    page.selectbox(key="manoeuvre-from").set_value("mep").run()
    page.button(key="add-manoeuvre").click().run()
    page.selectbox(key="manoeuvre-from").set_value("fvc").run()
    page.button(key="add-manoeuvre").click().run()
    page.button(key="protocol-save").click().run()
    assert not [one for one in page.error if "cannot be kept" not in one.value], said(page)
    text = (small / "tight.yaml").read_text("utf-8")
    assert "MEP: {unit: cmH2O" in text
    assert "  fvc-1:" in text  # the study's own fvc stays as it is
    assert "# as soon as can be" in text
