"""Who gets in: signed in where that is asked, known by issuer and subject, refused by role."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.documents.jobs import Kind as PaperKind
from planner.pages import access
from planner.record.access import Grant, Right, Role, write_grants
from planner.record.events import Kind
from planner.record.store import open_store
from planner.record.tables import events_query
from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.model import Study
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
ISSUER = "https://sign-in.example"


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Study:
    """The small study, open."""
    st.cache_resource.clear()
    shutil.copytree(ROOT / "tests" / "data" / "small", tmp_path / "small")
    monkeypatch.setenv("TESTDAY_STUDY", str(tmp_path / "small"))
    return read_study(tmp_path / "small")


@pytest.fixture
def signed_in(study: Study, monkeypatch: pytest.MonkeyPatch):
    """Sets up sign-in, with one known person of that role, and signs that subject in."""

    def sign_in(role: Role = Role.READER, subject: str = "s-1", known: str = "s-1") -> None:
        (study.folder / ".testday").mkdir(exist_ok=True)
        write_grants(study.folder / ".testday" / "access.csv", [Grant(ISSUER, known, "K1", role)])
        monkeypatch.setattr(st, "secrets", {"auth": {"client_id": "x"}})
        monkeypatch.setattr(st, "user", {"is_logged_in": True, "iss": ISSUER, "sub": subject})

    return sign_in


def words(app: AppTest) -> str:
    return "\n".join(str(one.value) for one in [*app.title, *app.markdown, *app.error, *app.code])


def open_app() -> AppTest:
    return AppTest.from_file(ROOT / "app.py", default_timeout=60).run()


def test_on_this_machine_nobody_signs_in(study: Study):
    assert not access.sign_in_is_asked()
    assert access.may(study, Right.PLAN)


@pytest.mark.parametrize(
    "page", ["protocol", "study", "schedule", "documents", "day", "adherence", "numbers"]
)
def test_who_is_not_signed_in_sees_no_page(study: Study, monkeypatch: pytest.MonkeyPatch, page: str):
    monkeypatch.setattr(st, "secrets", {"auth": {"client_id": "x"}})
    monkeypatch.setattr(st, "user", {"is_logged_in": False})
    app = open_app().switch_page(f"planner/pages/{page}.py").run()
    assert not app.title
    assert app.button(key="access-sign-in").label == "Sign in"


def test_who_is_signed_in_and_not_known_is_told_what_to_hand_over(study: Study, signed_in):
    signed_in(subject="s-2")
    app = open_app()
    assert not app.title
    assert "not known here" in words(app)
    assert f"issuer: {ISSUER}\nsubject: s-2" in words(app)


def test_before_there_is_a_table_the_first_is_told_what_to_write_in_it(study: Study, signed_in):
    signed_in()
    (study.folder / ".testday" / "access.csv").unlink()
    app = open_app()
    assert not app.title
    assert f"issuer: {ISSUER}\nsubject: s-1" in words(app)
    assert "still to be written" in words(app)


def test_who_is_known_is_named_and_need_not_pick_a_code(study: Study, signed_in):
    signed_in(Role.TECHNICIAN)
    assert access.actor(study).code == "K1"
    assert access.actor(study).how == "signed in"


@pytest.mark.parametrize(
    ("role", "rights"),
    [
        (Role.READER, {Right.READ}),
        (Role.TECHNICIAN, {Right.READ, Right.RECORD}),
        (Role.COORDINATOR, set(Right)),
    ],
)
def test_each_role_may_do_what_it_may_and_a_refusal_is_recorded(study: Study, signed_in, role, rights):
    signed_in(role)
    assert {right for right in Right if access.may(study, right)} == rights
    with open_store(study) as store:
        rows = store.read(events_query())
        assert [row.kind for row in rows] == [Kind.DENIED] * (len(Right) - len(rights))
        assert {row.note for row in rows} == {str(right) for right in Right} - {str(r) for r in rights}


@pytest.mark.parametrize(("role", "told"), [(Role.READER, True), (Role.COORDINATOR, False)])
def test_a_reader_is_told_before_pressing_where_nothing_may_be_changed(study: Study, signed_in, role, told):
    signed_in(role)
    app = open_app().switch_page("planner/pages/schedule.py").run()
    assert any("signed in as a reader" in str(one.value) for one in app.info) is told
    app.switch_page("planner/pages/numbers.py").run()
    assert not any("signed in as a reader" in str(one.value) for one in app.info)


def test_a_reader_finds_the_ethics_text_open(study: Study, signed_in):
    put_in_force(study.folder, read_plan(ROOT / "tests" / "data" / "small-plan.json", study))
    signed_in(Role.READER)
    app = open_app()
    assert not app.exception
    assert app.title[0].value == "What do people hold in their hands?"
    assert app.radio(key="documents-kind").value == PaperKind.ETHICS
    assert "### In short" in words(app)


def test_a_table_of_rights_that_cannot_be_read_lets_nobody_in(study: Study, signed_in):
    signed_in()
    (study.folder / ".testday" / "access.csv").write_text("issuer,subject\n", "utf-8")
    app = open_app()
    assert not app.title
    assert "cannot be read" in words(app)
