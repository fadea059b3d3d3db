"""What a reader and a technician find on each page: no button or field that would be refused to them."""

from __future__ import annotations

import ast
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.pages import study_views
from planner.record.access import Grant, Role, write_grants
from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
PAGES = ROOT / "planner" / "pages"
ISSUER = "https://sign-in.example"
# What everybody may press: it only shows something else on their own page, or makes papers to take along.
OWN = ("access-leave", "documents-make", "day-go", "go-", "schedule-mend-")
RECORDS = ("day-dry-", "day-note-", "day-correct-", "day-take", "FormSubmitter:day-", "day_pad")
FIELDS = ("text_input", "text_area", "checkbox")
LOOKS = (
    "day_address",
    "day_figure",
    "day_heard",
    "new-name",
    "day-date",
    "day-station",
    "day-code",
    "schedule-learned",
    "day-played",
)
VIEWS = {
    "protocol": ("protocol-view", ("Parts", "Manoeuvres", "Windows", "Chances", "Text", "Compare", "New")),
    "study": (study_views.VIEW, study_views.VIEWS),
}


def folds() -> Iterator[str]:
    """The keys of all parts that stand behind a fold, read off the pages' code."""
    for path in PAGES.glob("*.py"):
        for one in ast.walk(ast.parse(path.read_text("utf-8"))):
            is_fold = isinstance(one, ast.Call) and getattr(one.func, "id", "") == "fold"
            if is_fold and isinstance(one.args[1], ast.Constant):
                yield str(one.args[1].value)


@pytest.fixture
def opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, Role, str], AppTest]:
    """Opens a page of the small study, every fold open, for a signed-in person of that role."""
    st.cache_resource.clear()
    folder = tmp_path / "small"
    shutil.copytree(ROOT / "tests" / "data" / "small", folder)
    put_in_force(folder, read_plan(ROOT / "tests" / "data" / "small-plan.json", read_study(folder)))
    monkeypatch.setenv("TESTDAY_STUDY", str(folder))
    monkeypatch.setattr(st, "secrets", {"auth": {"client_id": "x"}})
    monkeypatch.setattr(st, "user", {"is_logged_in": True, "iss": ISSUER, "sub": "s-1"})

    def open_it(page: str, role: Role, view: str = "") -> AppTest:
        write_grants(folder / ".testday" / "access.csv", [Grant(ISSUER, "s-1", "K1", role)])
        app = AppTest.from_file(ROOT / "app.py", default_timeout=120)
        for key in folds():
            app.session_state[key] = True
        if view:
            app.session_state[VIEWS[page][0]] = view
        app.switch_page(f"planner/pages/{page}.py").run()
        assert not app.exception
        return app

    return open_it


def can_be_pressed(app: AppTest) -> list[str]:
    """Buttons and fields that are not closed, by their key; the tables that can be typed into as well."""
    found = [str(one.key or one.label) for one in app.button if not one.proto.disabled]
    for kind in FIELDS:
        found += [str(one.key or one.label) for one in app.get(kind) if not one.proto.disabled]
    return [*found, *(str(one.proto.component_name) for one in app.get("bidi_component"))]


def every_view() -> list[tuple[str, str]]:
    alone = [(name, "") for name in ("schedule", "documents", "day", "adherence", "numbers")]
    return [*((page, view) for page, (_, views) in VIEWS.items() for view in views), *alone]


@pytest.mark.parametrize(("page", "view"), every_view())
def test_a_reader_can_press_nothing_that_is_refused(opened: Callable[..., AppTest], page: str, view: str):
    app = opened(page, Role.READER, view)
    assert [one for one in can_be_pressed(app) if not one.startswith((*OWN, *LOOKS))] == []


@pytest.mark.parametrize(("page", "view"), every_view())
def test_a_technician_can_press_what_records(opened: Callable[..., AppTest], page: str, view: str):
    app = opened(page, Role.TECHNICIAN, view)
    found = can_be_pressed(app)
    records = [one for one in found if one.startswith(RECORDS)]
    assert bool(records) is (page == "day")
    assert [one for one in found if one not in records and not one.startswith((*OWN, *LOOKS))] == []


@pytest.mark.parametrize(("page", "view"), [("protocol", "Parts"), ("study", "Staff"), ("schedule", "")])
def test_a_coordinator_can(opened: Callable[..., AppTest], page: str, view: str):
    """Else the two above would hold of pages on which there is nothing at all."""
    app = opened(page, Role.COORDINATOR, view)
    assert [one for one in can_be_pressed(app) if not one.startswith((*OWN, *LOOKS))] != []


@pytest.mark.parametrize(
    ("page", "role", "whom"),
    [
        ("schedule", Role.READER, "takes a coordinator"),
        ("schedule", Role.TECHNICIAN, "takes a coordinator"),
        ("day", Role.READER, "takes a technician"),
    ],
)
def test_the_page_says_whom_it_takes(opened: Callable[..., AppTest], page: str, role: Role, whom: str):
    app = opened(page, role)
    assert any(f"signed in as a {role}" in one.value and whom in one.value for one in app.info)


def test_a_closed_button_says_why(opened: Callable[..., AppTest]):
    app = opened("schedule", Role.READER)
    assert app.button(key="schedule-pack").proto.help == "This takes a coordinator."


def test_what_a_reader_finds_typed_stays_as_it_is(opened: Callable[..., AppTest], tmp_path: Path):
    """A press that comes all the same, as from a page drawn before the role was taken away."""
    app = opened("protocol", Role.COORDINATOR, "Parts")
    write_grants(tmp_path / "small" / ".testday" / "access.csv", [Grant(ISSUER, "s-1", "K1", Role.READER)])
    app.button(key="add-step").click().run()
    assert not app.exception
    drafts = tmp_path / "small" / ".testday" / "drafts"
    assert not drafts.exists() or not list(drafts.iterdir())
