"""What the server reads ahead is what the pages use."""

from __future__ import annotations

import ast
import gc
import importlib
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from planner.commands.app import server_words
from planner.pages import fetched, serve
from planner.schedule.in_force import put_in_force
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

ROOT = Path(__file__).parents[2]
PLAN = ROOT / "tests" / "data" / "small-plan.json"


@pytest.mark.parametrize("name", [*serve.FIRST, *serve.NEXT, *serve.LATER, *serve.MEANWHILE])
def test_what_is_read_ahead_exists_and_shows_nothing(name: str):
    assert not hasattr(importlib.import_module(name), "page"), "a page runs where it is imported"


def test_nothing_is_read_before_the_server_answers(monkeypatch: pytest.MonkeyPatch):
    asked: list[str] = []
    answers = iter([False, False, True])
    monkeypatch.setattr("streamlit.runtime.exists", lambda: next(answers))
    monkeypatch.setattr(serve.time, "sleep", lambda seconds: asked.append("waited"))
    monkeypatch.setattr(serve.importlib, "import_module", asked.append)
    monkeypatch.setattr(serve, "draw_ahead", lambda name: asked.append(f"drawn: {name}"))
    monkeypatch.setattr(serve, "settle", lambda: asked.append("settled"))
    monkeypatch.setattr(fetched, "SENT", SimpleNamespace(wait=lambda seconds: asked.append("page awaited")))
    serve.read_ahead()
    assert asked[:3] == ["waited", "waited", serve.FIRST[0]]
    done = [name for name in asked if name != "waited"]
    drawn = {f"drawn: {name}" for name in (*serve.DRAWN_FIRST, *serve.DRAWN_LATER)}
    assert set(done) == {*serve.FIRST, *serve.NEXT, *serve.LATER, *drawn, "page awaited", "settled"}
    assert done.index(f"drawn: {serve.DRAWN_FIRST[0]}") < done.index(serve.NEXT[0])
    assert done.index(serve.NEXT[-1]) < done.index("page awaited") < done.index(serve.LATER[0])
    assert done[-1] == "settled"


def test_a_page_that_was_sent_has_the_rest_read(small: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("TESTDAY_STUDY", str(small))
    fetched.SENT.clear()
    at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    at.switch_page("planner/pages/numbers.py").run()
    assert fetched.SENT.is_set()


def test_the_first_page_stands_without_the_database_library(small: Path):
    """In a process of its own: it was a seventh of all that the server did until then."""
    words = (
        "import sys; from streamlit.testing.v1 import AppTest\n"
        f"at = AppTest.from_file({str(ROOT / 'app.py')!r}, default_timeout=60)\n"
        "at.switch_page('planner/pages/protocol.py').run()\n"
        "print(at.title[0].value, 'sqlalchemy' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", words], capture_output=True, text=True, check=True, cwd=ROOT,
        env=os.environ | {"TESTDAY_STUDY": str(small)},
    )  # fmt: skip
    assert done.stdout.split("\n")[0] == "What happens in a visit? False"


PAGES = ("protocol", "study", "schedule", "documents", "day", "adherence", "numbers")


def test_no_page_waits_for_what_could_have_been_read_ahead():
    """In a process of its own: the modules that pages name, once all is read, are there."""
    named = set()
    for page in PAGES:
        for one in ast.walk(ast.parse((ROOT / "planner" / "pages" / f"{page}.py").read_text("utf-8"))):
            if isinstance(one, ast.ImportFrom) and one.module and one.module.startswith("planner"):
                named |= {one.module, *(f"{one.module}.{name.name}" for name in one.names)}
    words = (
        "import importlib, importlib.util, sys; from planner.pages import serve\n"
        "for name in (*serve.FIRST, *serve.NEXT, *serve.LATER): importlib.import_module(name)\n"
        "for name in sys.argv[1:]:\n"
        "    above = sys.modules.get(name.rpartition('.')[0])\n"
        "    if name not in sys.modules and (above is None or not hasattr(above, name.rpartition('.')[2])):\n"
        "        print(name)"
    )
    done = subprocess.run(
        [sys.executable, "-c", words, *sorted(named)], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout == ""


DRAWS = {  # page of what is drawn ahead, and what would draw it
    "planner.pages.protocol_picture": ("protocol", "planner.pages.protocol_picture.screen_spec"),
    "planner.pages.study_picture": ("study", "planner.documents.presence.presence"),
    "planner.pages.schedule_picture": ("schedule", "planner.pages.schedule_picture.screen_spec"),
    "planner.pages.documents_made": ("documents", "planner.pages.documents_made.jobs"),
    "planner.pages.day_scene": ("day", "planner.pages.day_scene.open_store"),
}


@pytest.mark.parametrize("name", [*serve.DRAWN_FIRST, *serve.DRAWN_LATER])
def test_what_is_drawn_ahead_is_what_the_page_opens_with(
    name: str, small: Path, monkeypatch: pytest.MonkeyPatch
):
    put_in_force(small, read_plan(PLAN, read_study(small)))
    monkeypatch.setenv("TESTDAY_STUDY", str(small))
    st.cache_resource.clear()
    st.cache_data.clear()
    serve.draw_ahead(name)
    page, draws = DRAWS[name]
    monkeypatch.setattr("planner.documents.picture.screen_spec", drawn_again)
    monkeypatch.setattr(draws, drawn_again)
    at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    at.switch_page(f"planner/pages/{page}.py").run()
    assert not at.exception


def drawn_again(*what: object, **how: object) -> str:
    raise AssertionError("drawn again")


def test_what_cannot_be_drawn_ahead_stops_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    (tmp_path / "study.yaml").write_text("not: [a study", encoding="utf-8")
    (tmp_path / "odd.yaml").write_text("format: 1\nvisit: 3\n", encoding="utf-8")
    monkeypatch.setenv("TESTDAY_STUDY", str(tmp_path))
    for name in (*serve.DRAWN_FIRST, *serve.DRAWN_LATER):
        serve.draw_ahead(name)


def test_what_was_read_is_not_looked_through_at_each_click():
    gc.unfreeze()
    try:
        serve.settle()
        assert gc.get_freeze_count() > 10_000, "modules and what they hold"
    finally:
        gc.unfreeze()
    assert "--runner.postScriptGC=false" in server_words(8000, browser=False)


@pytest.fixture
def maker() -> Iterator[int]:
    """A process that has made a study and ended, beside another child that lives on."""
    with subprocess.Popen(["sleep", "60"]) as other:
        yield os.spawnvp(os.P_NOWAIT, "true", ["true"])
        assert other.poll() is None, "nobody waits for a child that has made nothing"
        other.kill()


def test_a_study_in_the_making_is_waited_for(maker: int, monkeypatch: pytest.MonkeyPatch):
    told, telling = os.pipe()
    os.write(telling, "/studies/démo".encode())
    os.close(telling)
    monkeypatch.setenv("TESTDAY_STUDY_FROM", f"{told} {maker}")
    monkeypatch.setenv("TESTDAY_STUDY", "")
    serve.await_study()
    assert os.environ["TESTDAY_STUDY"] == "/studies/démo"
    assert "TESTDAY_STUDY_FROM" not in os.environ
    with pytest.raises(ChildProcessError):
        os.waitpid(maker, os.WNOHANG)  # it was waited for


def test_where_no_study_was_made_the_server_ends(maker: int, monkeypatch: pytest.MonkeyPatch):
    told, telling = os.pipe()
    os.close(telling)
    os.waitpid(maker, 0)  # ended already: nobody else is waited for instead
    monkeypatch.setenv("TESTDAY_STUDY_FROM", f"{told} {maker}")
    with pytest.raises(SystemExit) as ended:
        serve.await_study()
    assert ended.value.code == 1
