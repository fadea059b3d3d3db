"""The page that says what the numbers mean, and where they come from."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest


@pytest.fixture
def page(open_small: Callable[..., AppTest]) -> str:
    at = open_small("numbers", "What do the numbers mean?", planned=False)
    return " ".join(" ".join(str(block.value) for block in at.markdown).split())


EXPLAINED = (
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
)
NEVER = (
    "complies", "certified", "normal breathing", "optimal", "quantile", "Monte Carlo", "`", "block", "seed",
)  # fmt: skip


def test_every_number_of_the_app_is_explained(page: str):
    assert [words for words in EXPLAINED if words not in page] == []


def test_nothing_is_claimed_and_no_word_of_the_code_is_left(page: str):
    assert [word for word in NEVER if word in page] == []


def test_the_cautions_stand_at_its_foot(page: str):
    assert "A participant who is unwell comes before any time." in page
