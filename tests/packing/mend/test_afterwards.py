"""Who clears and who stays after what still runs can be somebody else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from planner.schedule.model import Schedule

STEPS = """
  - {id: hello, title: Hello, takes: 10 min, staff: lead}
  - {id: before, title: Before, measure: fvc}
  - {id: bike, title: Easy cycling, exercise: true, takes: 10 min, rig: bike, staff: lead, clear: 3 min,
     watch: {staff: operator, for: 5 min}}
  - {id: after, title: After, measure: fvc, due: {after: bike, at: 2 min, early: 1 min, late: 2 min}}
"""
P2_CYCLES = """
P2
08:11:00 K3
08:21:00 S2 K4
08:30:00 B1 K3 + K1
"""
Days = Callable[[str, str], Any]


def who_stays(found: Schedule) -> dict[str, str]:
    (visit,) = [one for one in found.visits if one.participant == "P2"]
    return dict(visit.activities[2].watch.staff)


def test_who_is_kept_longer_elsewhere_does_not_stay_after_a_bout_that_runs(running_day: Days):
    """K1 was to stay with P2 from 08:40 on; the last measure of P1 and its clearing keep them to 08:41."""
    first = "P1\n08:03:00 K2\n08:13:00 S1 K1\n08:17:00 B1 K2 + K4\n08:30:00 S1 K1"
    day = running_day(STEPS, first + P2_CYCLES + "08:41:00 S2 K4")
    found = day.mend("08:33:00", ended={("P1", "after"): day.at("08:39:00")})
    assert who_stays(found) == {"operator": "K4"}
    assert {s.name: (s.value, s.bound) for s in found.stages}["blocks_changed"] == (2, 2)


def test_a_visit_of_which_only_the_watch_is_left_can_still_be_changed(running_day: Days):
    """The bout is the last step of P2, and has begun: nothing of it can be moved."""
    first = "P1\n08:16:00 K2\n08:30:00 S1 K1\n08:44:00 B1 K2 + K4"
    day = running_day(STEPS[: STEPS.index("  - {id: after")], first + P2_CYCLES)
    found = day.mend("08:33:00", ended={("P1", "before"): day.at("08:39:00")})
    assert who_stays(found) == {"operator": "K4"}
