"""What waiting alone makes of a day: the same order, the same rigs and people, nothing sooner."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from planner.packing.mend.facts import facts
from planner.packing.mend.ring import Found, RingSearch
from planner.packing.mend.study import with_troubles
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import key
from planner.packing.running import Running

STEPS = """
  - {id: hello, title: Hello, takes: 5 min, staff: lead}
  - {id: ride, title: Ride, exercise: true, takes: 10 min, rig: bike, staff: lead,
     watch: {staff: lead, for: 5 min}}
  - {id: after, title: After, measure: fvc, due: {after: ride, at: [2 min], early: 1 min, late: [1 min]}}
"""
VISITS = """
P1
08:00:00 K2
08:05:00 B1 K2 + K2
08:16:00 S1 K1
P2
08:10:00 K3
08:15:00 B1 K3 + K3
08:26:00 S1 K1
P3
13:30:00 K3
13:35:00 B1 K3 + K3
13:46:00 S1 K1
"""
Days = Callable[..., Any]


def waiting(day: Any, now: str, **troubles: Any) -> Found | None:
    """The day as waiting makes it of these troubles."""
    told, moment = Troubles(**troubles), day.at(now)
    visits = {key(visit): visit for visit in day.plan.visits}
    running = Running(with_troubles(day.study, moment, told), day.plans, visits, {})
    known = facts(day.study, day.plans, day.plan, moment.date(), moment, told)
    return RingSearch(running, known, ()).waiting(known.standings).found


def times(found: Found | None) -> dict[str, list[str]]:
    """By participant, when each part of the visit starts; nothing of who is left out."""
    assert found is not None
    day, clock = found.day, found.day.grid.moment
    return {
        standing.placed.participant: [f"{clock(step):%H:%M:%S}" for step in starts]
        for standing, starts in zip(day.facts.standings, found.answer.starts, strict=False)
        if starts is not None
    }


def test_who_is_late_is_waited_for_and_whoever_has_their_turn_after(running_day: Days):
    """P2 rides when P1 has left the bike; nothing is later than its turn and its window ask for."""
    found = waiting(running_day(STEPS, VISITS), "07:50", late={"P1": 7})
    assert times(found) == {
        "P1": ["08:07:00", "08:12:00", "08:22:00"],
        "P2": ["08:10:00", "08:22:00", "08:32:00"],
        "P3": ["13:30:00", "13:35:00", "13:46:00"],
    }
    assert found is not None
    assert found.values[:4] == (0, 0, 0, 0)
    assert found.answer.given == found.day.old.given


def test_a_window_that_delay_would_miss_moves_what_it_counts_from(running_day: Days):
    """S1 is not there for P2's measure at 08:26: the ride, which has not begun, waits with it."""
    day = running_day(STEPS, VISITS)
    found = waiting(day, "08:12", out_of_use=(("S1", day.at("08:25"), day.at("08:36")),))
    assert times(found)["P2"] == ["08:10:00", "08:24:00", "08:36:00"]
    assert found is not None
    assert found.values[1] == 0


def test_what_has_begun_misses_its_window_and_goes_on(running_day: Days):
    day = running_day(STEPS, VISITS)
    found = waiting(day, "08:17", out_of_use=(("S1", day.at("08:17"), day.at("08:36")),))
    assert times(found)["P1"] == ["08:00:00", "08:05:00", "08:36:00"]
    assert times(found)["P2"][2] > times(found)["P1"][2], "the order stays"
    assert found is not None
    assert found.values[1] == 2


def test_who_finds_no_place_before_the_day_ends_is_left_out(running_day: Days):
    found = waiting(running_day(STEPS, VISITS), "13:00", late={"P3": 20})
    assert set(times(found)) == {"P1", "P2"}
    assert found is not None
    assert found.values[0] == 1


def test_one_who_is_held_up_goes_after_what_has_begun_meanwhile(running_day: Days):
    """P1 comes when P2 rides already, and is still measured first."""
    found = waiting(running_day(STEPS, VISITS), "08:16", late={"P1": 20})
    assert times(found)["P2"][:2] == ["08:10:00", "08:15:00"]
    assert times(found)["P2"][2] > times(found)["P1"][2]
    assert times(found)["P1"][1] == "08:25:00"
