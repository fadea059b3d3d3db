"""Each stage has words, and its amounts a unit that a person reads."""

from __future__ import annotations

import pytest

from planner.schedule.stage_words import SEARCHING, amount_words, order_words, stage_words
from planner.schedule.values import KNOWN


@pytest.mark.parametrize("name", KNOWN)
def test_every_stage_has_words_of_its_own(name: str):
    words = stage_words(name)
    assert words != SEARCHING
    assert name not in (words.doing, words.found)
    assert "_" not in words.doing + words.found


def test_amounts_carry_a_unit():
    assert amount_words("placed", 12) == "12 visits"
    assert amount_words("demands_missed", 1) == "1 demand"
    assert amount_words("last_day", 1) == "1 day after the first"
    assert amount_words("last_day", 2) == "2 days after the first"
    assert amount_words("waiting_s", 2100) == "35 min"
    assert amount_words("placed", None) == "not known yet"
    assert amount_words("a stage of a later version", 3) == "3"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 min"),
        (179 * 60, "179 min"),
        (180 * 60, "3 h"),
        (194 * 60, "3 h 14 min"),
        (4454 * 60, "3 days 2 h"),
        ((39 * 24 * 60 + 6) * 60, "39 days"),
        (86400, "1 day"),
    ],
)
def test_long_spans_are_told_in_days_and_hours(seconds: int, words: str):
    assert amount_words("shift_s", seconds) == words


def test_of_a_mended_plan_it_is_said_what_comes_before_the_fewest_changes():
    words = order_words(["placed", "demands_missed", "participants_touched", "blocks_changed", "shift_s"])
    assert words
    assert "missed by as little as can be" in words
    assert "sooner than they can come" in words
    assert order_words(["placed", "waiting_s"]) is None
