"""Slips of typing are asked about, never refused. Limits: common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from planner.protocol.model import Reading
from planner.quantity import Quantity, quantity
from planner.record.plausible import question

FVC = Reading("FVC", "L", quantity("4.80 L"))
MIP = Reading("MIP", "cmH2O", Quantity(Decimal("-90"), "cmH2O"))
BARE = Reading("X", "L")


@pytest.mark.parametrize(("reading", "value", "own"), [
    (FVC, "4.80", []), (FVC, "1.2", []), (FVC, "9.0", []), (FVC, "4.5", ["4.8", "4.7"]), (BARE, "900", []),
    (MIP, "-70", []), (MIP, "-100", ["-90"]),
])  # fmt: skip
def test_what_may_well_be_is_not_asked_about(reading, value, own):
    assert question(reading, Decimal(value), [Decimal(one) for one in own]) == ""


@pytest.mark.parametrize(("reading", "value", "own", "words"), [
    (FVC, "48.0", [], "the decimal point may have slipped"),
    (FVC, "0.48", [], "the decimal point may have slipped"),
    (FVC, "480", [], "the decimal point may have slipped"), (FVC, "0", [], "far from what is usual (4.80 L)"),
    (FVC, "2.0", ["4.8"], "far from this person's other values (about 4.8)"),
    (MIP, "90", [], "is positive where MIP is usually written negative"), (BARE, "45", ["4.5"], "slipped"),
])  # fmt: skip
def test_a_likely_slip_is_asked_about(reading, value, own, words):
    assert words in question(reading, Decimal(value), [Decimal(one) for one in own])
