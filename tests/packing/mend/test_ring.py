"""A day in which somebody is called too soon, and there is room for them later on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from planner.packing.core import Answer
from planner.packing.mend.aims import AIMS, aim_values
from planner.packing.mend.facts import facts
from planner.packing.mend.ring import RingSearch
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import key
from planner.packing.running import Running

STEPS = "  - {id: hello, title: Hello, takes: 30 min, staff: lead}\n"
TWO = """
P1
11:00:00 K2
P2
11:00:00 K3
"""
NOTICE = AIMS.index("short_notice_s")
Days = Callable[[str, str], Any]


def test_who_is_called_too_soon_comes_later_where_there_is_room(running_day: Days):
    day = running_day(STEPS, TWO)
    now = day.at("08:30:00")
    known = facts(day.study, day.plans, day.plan, now.date(), now, Troubles())
    running = Running(day.study, day.plans, {key(v): v for v in day.plan.visits}, {})
    rings = RingSearch(running, known, (), workers=1)
    found = rings.best(known.standings, 5).found
    assert found
    at_once = found.day.steps(day.at("08:40:00"))
    soon = Answer(((at_once,), *found.answer.starts[1:]), found.answer.given)
    near = replace(found, answer=soon, values=aim_values(found.day, soon))
    assert near.values[NOTICE] > 0
    better = rings.called_in_time(known.standings, 5, near).found
    assert better
    assert better.values[:2] == (0, 0)
    assert better.values[NOTICE] == 0
