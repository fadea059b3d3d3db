"""Work that has begun when somebody leaves: taken over by who is there, or named."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from planner.schedule.model import Schedule

STEPS = """
  - {id: hello, title: Hello, takes: 10 min, staff: lead}
  - {id: before, title: Before, measure: fvc}
  - {id: bike, title: Easy cycling, exercise: true, takes: 10 min, rig: bike, staff: lead, clear: 3 min,
     watch: {staff: lead, for: 5 min}}
  - {id: farewell, title: Farewell, takes: 10 min, staff: operator}
"""
CYCLES = """
P1
08:00:00 K2
08:10:00 S1 K1
08:13:50 B1 K2 + K3
08:23:50 K4
"""
Days = Callable[[str, str], Any]


def who_stays(found: Schedule) -> dict[str, str]:
    (visit,) = [one for one in found.visits if one.participant == "P1"]
    return dict(visit.activities[2].watch.staff)


def told(found: Schedule) -> list[str]:
    return [reason.message for reason in found.reasons]


@pytest.mark.parametrize("leaves", ["08:18:50", "08:25:00"])
def test_who_leaves_before_they_are_to_stay_is_replaced_by_who_is_there(running_day: Days, leaves: str):
    day = running_day(STEPS, CYCLES)
    found = day.mend("08:18:50", absent=(("K3", day.at(leaves), day.at("14:00")),))
    assert who_stays(found) == {"lead": "K2"}
    assert [(c.kind, c.step) for c in found.changes] == [("other person", "bike")]
    assert told(found) == []
    assert {s.name: (s.value, s.bound) for s in found.stages}["participants_touched"] == (1, 1)


def test_who_leaves_with_nobody_to_stay_instead_is_named_and_nothing_else_is_lost(running_day: Days):
    day = running_day(STEPS, CYCLES)
    gone = tuple((who, day.at("08:24:00"), day.at("14:00")) for who in ("K2", "K3"))
    found = day.mend("08:18:50", absent=gone)
    assert [one.activities for one in found.visits] == [one.activities for one in day.plan.visits]
    (words,) = told(found)
    assert words.startswith("P1, short: nobody is free for what follows bike until 08:28:50, which K3 leaves")


def test_who_could_stay_and_is_with_somebody_else_is_not_counted_on(running_day: Days):
    """K2 has begun with P2 before K3 leaves: neither P2 nor a measure of P1 is given up for it."""
    other = "P2\n08:22:00 K2\n08:32:00 S1 K1\n08:35:50 B1 K2 + K3\n08:45:50 K4"
    day = running_day(STEPS, CYCLES.replace("B1 K2", "B1 K3") + other)
    found = day.mend("08:23:00", absent=(("K3", day.at("08:24:00"), day.at("14:00")),))
    assert any("nobody is free for what follows bike" in words for words in told(found))
    assert [change.kind for change in found.changes if change.participant == "P1"] == []


def test_who_goes_after_the_watch_is_none_of_it(running_day: Days):
    day = running_day(STEPS, CYCLES)
    found = day.mend("08:18:50", absent=(("K3", day.at("08:28:50"), day.at("14:00")),))
    assert found.changes == ()
    assert told(found) == []


@pytest.mark.parametrize(("now", "leaves"), [("08:12:00", "08:13:50"), ("08:14:30", "08:14:30")])
def test_who_served_a_block_and_leaves_before_it_is_cleared_is_named(
    running_day: Days, now: str, leaves: str
):
    day = running_day(STEPS, CYCLES)
    found = day.mend(now, absent=(("K1", day.at(leaves), day.at("14:00")),))
    (words,) = told(found)
    assert words.startswith("P1, short: K1 clears after fvc of step before until 08:15: it stays as it was")


def test_who_leaves_within_a_block_is_named_for_the_block_and_for_its_clearing(running_day: Days):
    day = running_day(STEPS, CYCLES)
    found = day.mend("08:12:00", absent=(("K1", day.at("08:12:00"), day.at("14:00")),))
    assert [words.partition(" until")[0] for words in told(found)] == [
        "P1, short: before has begun with K1 and lasts",
        "P1, short: K1 clears after fvc of step before",
    ]
