"""Quantities keep the decimal that was written."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.quantity import Quantity, quantity


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("0.150 L", "0.150", "L"),
        ("8 cmH2O", "8", "cmH2O"),
        ("10 %", "10", "%"),
        ("-90 cmH2O", "-90", "cmH2O"),
        ("2 mL/min/mmHg", "2", "mL/min/mmHg"),
        ("123456789012 L", "123456789012", "L"),
        ("5 times a day", "5", "times a day"),
    ],
)
def test_a_quantity_is_read_as_it_was_written(text: str, value: str, unit: str):
    found = quantity(text)
    assert (str(found.value), found.unit) == (value, unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "L",
        "0.15",
        "0.15L",
        "0,15 L",
        ".5 L",
        "5. L",
        "1e3 L",
        "inf L",
        "nan L",
        "+5 L",
        "5 ",
        "--5 L",
        "५ L",
    ],
)
def test_what_is_no_quantity_is_refused(text: str):
    with pytest.raises(ValueError, match="not a quantity"):
        quantity(text)


def test_more_than_twelve_digits_are_refused():
    with pytest.raises(ValueError, match="12 digits"):
        quantity("1.234567890123 L")


@given(st.decimals(min_value=-(10**6), max_value=10**6, places=4), st.sampled_from(["L", "%", "cmH2O"]))
def test_a_quantity_reads_back_what_it_writes(value: Decimal, unit: str):
    assert quantity(str(Quantity(value, unit))) == Quantity(value, unit)


def test_differences_are_exact():
    """In binary floating point 4.25 - 4.10 is 0.15000000000000036."""
    assert quantity("4.25 L").value - quantity("4.10 L").value == quantity("0.150 L").value
