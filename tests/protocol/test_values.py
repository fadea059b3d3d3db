"""Identifiers name files on every system; labels stand in tables; numbers and shares are what is written."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.protocol import values


@pytest.mark.parametrize("text", ["a", "9", "ROW-07", "K2", "fvc_after", "a" * 40, "console", "com", "lpt10"])
def test_identifiers(text: str):
    assert values.identifier(text) == text


@pytest.mark.parametrize("text", ["", "-a", "_a", "a b", "a.b", "a/b", "ä", "a" * 41, "a\n", "..", "A;B"])
def test_what_is_no_identifier(text: str):
    with pytest.raises(ValueError, match="short name"):
        values.identifier(text)


@pytest.mark.parametrize("text", ["CON", "con", "PRN", "aux", "Nul", "COM1", "com9", "LPT1"])
def test_names_that_an_operating_system_reserves(text: str):
    """The device names of Windows, in any case (from memory)."""
    with pytest.raises(ValueError, match="reserves"):
        values.identifier(text)


@given(st.text(max_size=50))
def test_an_identifier_is_safe_as_a_file_name(text: str):
    try:
        found = values.identifier(text)
    except ValueError:
        return
    assert found.isascii()
    assert not set(found) - set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_")
    assert 1 <= len(found) <= 40


@pytest.mark.parametrize(
    "text", ["spirometer", "cheek support", " mouth-pressure meter ", "Größe (cm)", "x" * 60, "3 s"]
)
def test_labels(text: str):
    assert values.label(text) == text.strip()


@pytest.mark.parametrize(
    "text", ["", "  ", "a;b", "a/b", "a\tb", "a\nb", "start", "End", "stopped", "7", "-7", "x" * 61]
)
def test_what_is_no_label(text: str):
    with pytest.raises(ValueError, match=r"label|longer|holds"):
        values.label(text)


def test_whole_numbers_shares_and_flags():
    assert [values.whole_number(text) for text in ("1", " 8 ", "1000")] == [1, 8, 1000]
    assert values.share("5 %") == Decimal("0.05")
    assert [values.true_or_false(text) for text in ("true", "TRUE", "false")] == [True, True, False]


@pytest.mark.parametrize("text", ["0", "-1", "1.0", "1001", "five", "", "५", "1e2", "0x5"])
def test_what_is_no_whole_number(text: str):
    with pytest.raises(ValueError, match="whole number"):
        values.whole_number(text)


@pytest.mark.parametrize("text", ["0 %", "101 %", "0.5", "5 L", "-5 %"])
def test_what_is_no_share(text: str):
    with pytest.raises(ValueError, match="percentage"):
        values.share(text)


@pytest.mark.parametrize("text", ["yes", "no", "on", "1", "tRue", ""])
def test_what_is_neither_true_nor_false(text: str):
    with pytest.raises(ValueError, match="neither"):
        values.true_or_false(text)


def test_text_is_one_line():
    assert values.words("  Stop when\n\tasked. ") == "Stop when asked."
    with pytest.raises(ValueError, match="empty"):
        values.words(" \n ")
