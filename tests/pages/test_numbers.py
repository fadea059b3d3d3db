"""The page that says what the numbers mean, and where they come from."""

from __future__ import annotations

from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

ROOT = Path(__file__).parents[2]


@pytest.fixture
def page(small: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("TESTDAY_STUDY", str(small))
    st.cache_resource.clear()
    at = AppTest.from_file(str(ROOT / "app.py"), default_timeout=60)
    at.switch_page("planner/pages/numbers.py").run()
    assert not at.exception
    assert at.title[0].value == "What do the numbers mean?"
    return " ".join(" ".join(str(block.value) for block in at.markdown).split())


@pytest.mark.parametrize(
    "words",
    [
        "8 of 10 visits take no longer",
        "On time in 93 of 100 simulated visits",
        "4.25 L and 4.10 L are 0.15 L apart",
        "Both ends of a window belong to it",
        "Those inside exercise count from its start",
        "eight of ten simulated visits are as long as that or shorter",
        "Cochran 1954, Armitage 1955",
        "Theil 1950, Sen 1968",
        "Wilson 1927",
        "Newcombe 1998",
        "Williams (1949)",
        "Nothing here claims that a standard is met",
    ],
)
def test_every_number_of_the_app_is_explained(page: str, words: str):
    assert words in page


@pytest.mark.parametrize(
    "word",
    ["complies", "certified", "normal breathing", "optimal", "quantile", "Monte Carlo", "`", "block", "seed"],
)
def test_nothing_is_claimed_and_no_word_of_the_code_is_left(page: str, word: str):
    assert word not in page


def test_the_cautions_stand_at_its_foot(page: str):
    assert "A participant who is unwell comes before any time." in page
