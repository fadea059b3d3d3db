"""The rule for when to finish as a strip: what lies inside the bracket is what agrees."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.documents.agreement_strip import bracket, strip_chart, strip_words
from planner.protocol.agreement import line_state
from planner.protocol.model import EnoughLine, Manoeuvre, Reading
from planner.quantity import Quantity

VALUES = st.lists(st.integers(300, 600).map(lambda n: Decimal(n) / 100), min_size=1, max_size=8)


@pytest.fixture
def manoeuvre() -> Manoeuvre:
    """A manoeuvre that gives FVC in litres."""
    readings = {"FVC": Reading("FVC", "L")}
    return Manoeuvre("fvc", "Forced vital capacity", (), (), 0, 20, 30, 3, 8, (), readings, (), None)


def line(kind: str, count: int) -> EnoughLine:
    return EnoughLine("FVC", kind, count, (Quantity(Decimal("0.150"), "L"),))


def efforts(values: list[Decimal]) -> list[dict[str, Decimal]]:
    return [{"FVC": value} for value in values]


@given(VALUES, st.sampled_from(["largest", "any"]), st.integers(2, 4))
def test_so_many_values_lie_in_the_bracket_just_when_the_rule_holds(values, kind: str, count: int):
    rule = line(kind, count)
    low, high = bracket(rule, efforts(values))
    inside = sum(low <= value <= high for value in values)
    assert (inside >= count) == line_state(rule, efforts(values)).holds


def test_the_words_say_values_bracket_and_state(manoeuvre: Manoeuvre):
    said = strip_words(manoeuvre, line("largest", 2), efforts([Decimal("4.80"), Decimal("4.40")]))
    assert "effort 1 4.8, effort 2 4.4" in said
    assert "within 0.15 L of each other (4.65 to 4.8): not yet." in said


def test_the_strip_shows_each_value_once_and_both_ends(manoeuvre: Manoeuvre):
    drawn = strip_chart(manoeuvre, line("largest", 2), efforts([Decimal("4.80"), Decimal("4.40")])).to_dict()
    values = [row for layer in drawn["layer"] for row in layer["data"]["values"]]
    assert {row["edge"] for row in values if "edge" in row} == {"[", "]"}
    assert {(row["effort"], row["inside"]) for row in values if "effort" in row} == {
        ("1", True),
        ("2", False),
    }


def test_its_axis_has_the_ink_of_the_page(manoeuvre: Manoeuvre):
    drawn = strip_chart(manoeuvre, line("any", 2), efforts([Decimal("4.10"), Decimal("4.20")])).to_dict()
    for layer in drawn["layer"]:
        axis = layer["encoding"]["x"]["axis"]
        assert (axis["labelColor"], axis["titleColor"]) == ("currentColor", "currentColor")
