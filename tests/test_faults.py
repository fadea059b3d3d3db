"""Faults are collected and raised together, in the order of the file."""

from __future__ import annotations

import pytest

from planner.faults import Fault, Faults, FaultyInput, Place


def test_nothing_is_raised_without_a_fault():
    faults = Faults()
    faults.warn(Place("a.yaml"), "odd", "odd, but taken")
    faults.raise_if_any()
    assert [one.code for one in faults.warnings] == ["odd"]


def test_all_faults_are_raised_in_the_order_of_the_file():
    faults = Faults()
    for line, column in ((9, 1), (2, 7), (2, 3)):
        faults.add(Place("a.yaml", line, column), "wrong", f"at {line}:{column}")
    faults.warn(Place("a.yaml", 5), "odd", "odd")
    with pytest.raises(FaultyInput) as raised:
        faults.raise_if_any()
    assert [(one.place.line, one.place.column) for one in raised.value.faults] == [(2, 3), (2, 7), (9, 1)]
    assert [one.code for one in raised.value.warnings] == ["odd"]
    assert str(raised.value).splitlines()[0] == "a.yaml:2:3: at 2:3"


def test_json_has_the_five_fixed_keys_and_the_hint_in_the_message():
    fault = Fault(Place("a.yaml", 4, 2), "unknown-key", "no such key", "Did you mean 'rest'?")
    assert fault.as_json() == {
        "file": "a.yaml",
        "line": 4,
        "column": 2,
        "code": "unknown-key",
        "message": "no such key. Did you mean 'rest'?",
    }
