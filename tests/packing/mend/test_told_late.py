"""A rig that failed, or a person who left, some minutes before anybody told of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

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
DECIDES = "it counts as done; the person in charge decides whether it is done again"
Days = Callable[[str, str], Any]


def told(found: Any) -> list[str]:
    return [reason.message for reason in found.reasons]


@pytest.mark.parametrize(
    ("kind", "name", "start", "end", "words"),
    [
        ("out_of_use", "S1", "08:12", "14:00", "S1 was out of use from 08:12"),
        ("out_of_use", "S1", "08:12", "08:13", "S1 was out of use from 08:12"),
        ("absent", "K1", "08:13", "08:20", "K1 was away from 08:13"),
    ],
)
def test_a_measure_that_they_spoiled_is_named(
    running_day: Days, kind: str, name: str, start: str, end: str, words: str
):
    day = running_day(STEPS, CYCLES)
    found = day.mend("08:16", **{kind: ((name, day.at(start), day.at(end)),)})
    assert f"P1, short: fvc of step before, 08:10-08:13:50: {words}; {DECIDES}" in told(found)
    assert [one.activities for one in found.visits] == [one.activities for one in day.plan.visits]


def test_a_watch_that_nobody_kept_is_named(running_day: Days):
    day = running_day(STEPS, CYCLES)
    found = day.mend("08:30", absent=(("K3", day.at("08:25"), day.at("08:40")),))
    assert told(found) == [
        f"P1, short: after step bike, 08:23:50-08:28:50: K3 was away from 08:25; {DECIDES}"
    ]


def test_what_still_runs_is_told_as_such_and_not_twice(running_day: Days):
    day = running_day(STEPS, CYCLES)
    found = day.mend("08:16", absent=(("K2", day.at("08:14"), day.at("14:00")),))
    (words,) = told(found)
    assert words.endswith(
        "bike has begun with K2 and lasts until 08:23: it stays as it was; somebody must take over"
    )


@pytest.mark.parametrize(("start", "end"), [("08:13:50", "14:00"), ("08:00", "08:10")])
def test_who_was_there_all_the_time_has_spoiled_nothing(running_day: Days, start: str, end: str):
    day = running_day(STEPS, CYCLES)
    found = day.mend("08:16", out_of_use=(("S1", day.at(start), day.at(end)),))
    assert told(found) == []
