"""What is fetched ahead is there, and is asked for once."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from planner.pages.fetched import KINDS, files_of


@pytest.mark.parametrize("kind", KINDS)
def test_the_installed_framework_has_one_file_of_each_kind(kind: str):
    assert len(files_of([kind])) == 1


def test_a_framework_without_such_files_has_nothing_fetched(tmp_path: Path):
    (tmp_path / "Radio.abc.js").write_text("", "utf-8")
    (tmp_path / "RadioGroup.abc.js").write_text("", "utf-8")
    assert files_of(["Radio", "Table"], tmp_path) == ["Radio.abc.js"]


def test_it_is_asked_for_once_a_session():
    def page() -> None:
        from planner.pages.fetched import fetch_ahead

        fetch_ahead()

    at = AppTest.from_function(page).run()
    assert len(at.get("html")) == 1
    assert all(name in at.get("html")[0].proto.body for name in files_of(KINDS))
    assert len(at.run().get("html")) == 0
