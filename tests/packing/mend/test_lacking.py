"""A visit that has lost a step in one mend is mended with what is left of it in the next."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from planner.schedule.model import Activity, Schedule

STEPS = """
  - {id: hello, title: Hello, takes: 5 min, staff: lead}
  - {id: ride, title: Ride, exercise: true, takes: 10 min, rig: bike, staff: lead,
     watch: {staff: lead, for: 5 min}}
  - {id: after, title: After, measure: fvc, due: {after: ride, at: 2 min, early: 1 min, late: 1 min}}
  - {id: last, title: Questions, takes: 5 min, staff: lead}
"""
VISITS = """
P1
08:00:00 K2
08:05:00 B1 K2 + K2
08:16:00 S1 K1
08:25:00 K2
P2
08:40:00 K3
08:45:00 B1 K3 + K3
08:56:00 S1 K1
09:05:00 K3
"""
Days = Callable[..., Any]


def of(plan: Schedule, step: str) -> Activity | None:
    """That step of P1, where it has a place."""
    (visit,) = (one for one in plan.visits if one.participant == "P1")
    return next((one for one in visit.activities if one.step == step), None)


@pytest.fixture
def day(running_day: Days) -> Any:
    """Both spirometers are out for the day while P1 rides: the measure after it is lost."""
    found = running_day(STEPS, VISITS)
    found.out = tuple((rig, found.at("08:10"), found.at("17:00")) for rig in ("S1", "S2"))
    found.plan = found.mend("08:10", out_of_use=found.out)
    return found


def test_a_real_end_moves_what_is_left_of_the_visit(day: Any):
    assert of(day.plan, "after") is None
    longer = day.mend("08:14", ended={("P1", "ride"): day.at("08:35")}, out_of_use=day.out)
    assert of(longer, "ride").end == day.at("08:35")
    assert of(longer, "last").start >= day.at("08:35")
    assert of(longer, "after") is None
    assert [one.since for one in longer.changes if one.step == "after"] == [day.plan.version]


def test_nobody_is_told_of_a_person_who_has_left(day: Any):
    """The person who was to ask the last questions leaves: another one does, or it is said."""
    before = of(day.plan, "last").staff["lead"]
    left = day.mend("08:20", absent=((before, day.at("08:20"), day.at("17:00")),), out_of_use=day.out)
    assert of(left, "last").staff["lead"] != before


def test_nothing_changes_where_nothing_is_told(day: Any):
    again = day.mend("08:14", out_of_use=day.out)
    assert [one for one in again.changes if one.since is None] == []
    assert of(again, "last") == of(day.plan, "last")
