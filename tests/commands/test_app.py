"""`testday open`: which folder is opened, and how a study is begun."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.commands.app import open_app, server_words
from planner.commands.demo import in_the_making, ready_copy

ROOT = Path(__file__).parents[2]


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The study of each server that would have been started, instead of starting it."""
    studies: list[str] = []
    monkeypatch.setattr(
        os, "execve", lambda program, words, environment: studies.append(environment["TESTDAY_STUDY"])
    )
    return studies


def test_a_study_is_begun_in_a_folder_that_is_made(tmp_path: Path, started: list[str]):
    folder = tmp_path / "laboratory" / "our-study"
    said = CliRunner().invoke(open_app, [str(folder), "--new", "--no-browser"])
    assert said.exit_code == 0, said.output
    assert folder.is_dir()
    assert list(folder.iterdir()) == []
    assert started == [str(folder)]


def test_a_folder_that_is_there_keeps_all_that_it_holds(tmp_path: Path, started: list[str]):
    (tmp_path / "notes.txt").write_text("ours", "utf-8")
    said = CliRunner().invoke(open_app, [str(tmp_path), "--new", "--no-browser"])
    assert said.exit_code == 0, said.output
    assert (tmp_path / "notes.txt").read_text("utf-8") == "ours"
    assert started == [str(tmp_path)]


def test_without_new_a_missing_folder_is_not_made_and_the_way_is_said(tmp_path: Path, started: list[str]):
    folder = tmp_path / "typo"
    said = CliRunner().invoke(open_app, [str(folder)])
    assert said.exit_code == 2
    assert "--new" in said.output
    assert not folder.exists()
    assert started == []


def test_a_demo_is_made_once_while_the_server_begins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    demo = ROOT / "demo_study"
    assert ready_copy(demo) is None
    number, maker = in_the_making(demo)
    with os.fdopen(number, encoding="utf-8") as told:
        made = Path(told.read())
    os.waitpid(maker, 0)
    assert made.is_relative_to(tmp_path)
    assert (made / ".testday" / "rehearsal.sqlite3").exists()
    assert ready_copy(demo) == made


def test_a_study_that_is_no_demo_is_opened_where_it_lies(tmp_path: Path, small: Path):
    assert ready_copy(small) == small
    assert ready_copy(tmp_path) == tmp_path


def test_a_demo_with_mistakes_is_opened_where_it_lies(small: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(small.parent))
    path = small / "study.yaml"
    path.write_text(path.read_text("utf-8") + "demo: true\nodd: 3\n", encoding="utf-8")
    number, maker = in_the_making(small)
    with os.fdopen(number, encoding="utf-8") as told:
        assert told.read() == str(small)
    os.waitpid(maker, 0)


def test_no_page_leads_to_a_host_outside():
    """The framework would offer to hand an exception to a search engine."""
    assert "--client.showErrorLinks=false" in server_words(8000, browser=False)
