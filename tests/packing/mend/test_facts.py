"""What has begun when a trouble is told, and what still waits."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from planner.faults import FaultyInput
from planner.packing.problem import key
from planner.schedule.model import PlacedVisit, Schedule

CYCLING = """
  - {id: hello, title: Hello, takes: 10 min, staff: lead}
  - {id: before, title: Before, measure: fvc}
  - {id: bike, title: Easy cycling, exercise: true, takes: 10 min, rig: bike, staff: lead, clear: 3 min,
     watch: {staff: lead, for: 5 min}}
  - {id: after, title: After, measure: fvc,
     due: {after: bike, at: [2 min, 15 min], early: 1 min, late: [2 min, 3 min]}}
"""
TWO = """
P1
08:00:00 K2
08:10:00 S1 K1
08:13:50 B1 K2 + K3
08:24:50 S1 K1
08:37:50 S1 K1
P2
08:13:50 K3
08:23:50 S2 K4
08:27:40 B1 K2 + K3
08:38:40 S2 K4
08:51:40 S2 K4
"""
MEASURES = """
  - {id: hello, title: Hello, takes: 10 min, staff: lead}
  - {id: before, title: Before, measure: [fvc, mip, mep]}
"""
ONE = """
P1
08:00:00 K2
08:10:00 S1 K1
08:13:50 M1 K4
08:16:00 M1 K4
"""
Days = Callable[[str, str], Any]


def visit(schedule: Schedule, participant: str) -> PlacedVisit:
    return next(one for one in schedule.visits if one.participant == participant)


@pytest.mark.parametrize("end", ["08:22:00", "08:25:00"])
@pytest.mark.parametrize("now", ["08:18:00", "08:23:30", "08:26:00"])
def test_who_is_to_stay_after_a_bout_is_not_busy_before_its_end(running_day: Days, now: str, end: str):
    """K3 welcomes P2 while P1 cycles with K2, and is to stay with P1 afterwards."""
    day = running_day(CYCLING, TWO)
    found = day.mend(now, ended={("P1", "bike"): day.at(end)})
    assert visit(found, "P2").activities[0] == visit(day.plan, "P2").activities[0]
    assert visit(found, "P1").activities[2].watch.end == day.at(end).replace(minute=day.at(end).minute + 5)


def test_a_bout_that_is_shorter_touches_nobody_else(running_day: Days):
    day = running_day(CYCLING, TWO)
    found = day.mend("08:18:00", ended={("P1", "bike"): day.at("08:22:00")})
    assert {one.participant for one in found.changes} == {"P1"}
    assert dict(visit(found, "P1").activities[2].watch.staff) == {"lead": "K2"}


def test_a_watch_by_somebody_who_has_not_left_another_yet_is_given_to_who_is_free(running_day: Days):
    """The bout ended at 08:22 and is told at 08:24: until 08:23:50 K3 was with P2."""
    day = running_day(CYCLING, TWO)
    found = day.mend("08:24:00", ended={("P1", "bike"): day.at("08:22:00")})
    assert dict(visit(found, "P1").activities[2].watch.staff) == {"lead": "K2"}
    assert key(visit(found, "P2")) == ("P2", "short")


@pytest.mark.parametrize(
    ("now", "told", "ends"),
    [
        ("08:12:00", "08:22:00", ["08:17:40", "08:19:50", "08:22:00"]),  # the first block runs
        ("08:12:00", "08:17:10", ["08:12:50", "08:16:00", "08:18:10"]),  # the others need not come sooner
        ("08:15:00", "08:22:00", ["08:13:50", "08:19:50", "08:22:00"]),  # the second
        ("08:17:00", "08:22:00", ["08:13:50", "08:16:00", "08:22:00"]),  # the last
        ("08:23:00", "08:22:00", ["08:13:50", "08:16:00", "08:22:00"]),  # it is over
    ],
)
def test_of_a_step_that_ends_later_or_sooner_the_block_that_runs_takes_longer_or_less(
    running_day: Days, now: str, told: str, ends: list[str]
):
    """What comes after it in the step has not begun, and keeps its length."""
    day = running_day(MEASURES, ONE)
    found = day.mend(now, ended={("P1", "before"): day.at(told)})
    assert [f"{one.end:%H:%M:%S}" for one in visit(found, "P1").activities[1:]] == ends


def test_an_end_that_leaves_the_blocks_to_come_no_time_is_refused_in_words(running_day: Days):
    day = running_day(MEASURES, ONE)
    with pytest.raises(FaultyInput, match="after fvc, which runs since 08:10, it has 4 min 20 s more"):
        day.mend("08:12:00", ended={("P1", "before"): day.at("08:14:00")})
