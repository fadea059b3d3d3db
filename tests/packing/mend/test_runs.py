"""Two blocks that are to have one rig: where it fails after the first, another one takes the second."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations_with_replacement
from typing import Any

import pytest

from planner.schedule.model import Activity, Schedule

STEPS = """
  - {id: hello, title: Hello, takes: 5 min, staff: lead}
  - {id: bike, title: Cycling, exercise: true, takes: 15 min, rig: bike, staff: lead, clear: 3 min,
     watch: {staff: lead, for: 10 min}}
  - {id: after, title: After, measure: [mip, mep],
     due: {after: bike, at: [2 min, 20 min], late: [3 min, 5 min]}}
"""
ONE = """
P1
08:00:00 K2
08:05:00 B1 K2 + K2
08:21:20 M1 K1
08:24:30 M1 K1
08:39:20 M1 K1
08:41:30 M1 K1
"""
MOMENTS = ("08:20:00", "08:22:00", "08:23:30", "08:24:00", "08:24:30", "08:26:00")
Days = Callable[[str, str], Any]


def pressures(found: Schedule) -> list[Activity]:
    return [one for one in found.visits[0].activities if one.manoeuvre in ("mip", "mep")]


@pytest.mark.parametrize(("told", "fails"), list(combinations_with_replacement(MOMENTS, 2)))
def test_nothing_is_lost_while_another_rig_is_free(running_day: Days, told: str, fails: str):
    """The first block is over at 08:23:30, the second begins at 08:24:30: told at once, or beforehand."""
    day = running_day(STEPS, ONE)
    found = day.mend(told, out_of_use=(("M1", day.at(fails), day.at("12:00:00")),))
    assert [one.manoeuvre for one in pressures(found)] == ["mip", "mep"] * 2
    assert [one.rigs for one in pressures(found)[1:]] == [("M2",)] * 3
    broken = [one.step for one in found.changes if one.kind == "run broken"]
    assert broken == ["after"] * (pressures(found)[0].rigs == ("M1",))
    assert {s.name: (s.value, s.bound) for s in found.stages}["demands_missed"] == (0, 0)


def test_a_run_goes_on_with_its_rig_where_that_fails_after_it_only(running_day: Days):
    day = running_day(STEPS, ONE)
    found = day.mend("08:24:00", out_of_use=(("M1", day.at("08:30:00"), day.at("12:00:00")),))
    assert [one.rigs for one in pressures(found)] == [("M1",)] * 2 + [("M2",)] * 2
    assert not [one for one in found.changes if one.kind == "run broken"]


def test_a_run_that_comes_into_the_time_without_its_rig_goes_on_with_another(running_day: Days):
    """Whoever measures is away until then; and nobody else does it."""
    day = running_day(STEPS, ONE)
    away = (("K1", day.at("08:24:00"), day.at("08:34:00")), ("K4", day.at("08:24:00"), day.at("08:34:00")))
    found = day.mend("08:24:00", absent=away, out_of_use=(("M1", day.at("08:30:00"), day.at("12:00:00")),))
    assert [one.rigs for one in pressures(found)] == [("M1",)] + [("M2",)] * 3
    assert [one.kind for one in found.changes if one.kind in ("run broken", "dropped")] == ["run broken"]
