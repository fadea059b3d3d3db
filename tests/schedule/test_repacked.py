"""The judge of a mended plan: who has begun elsewhere does not wait for what they are to do afterwards."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from planner.schedule.model import Activity, Outcome, PlacedVisit, PlacedWatch, Schedule
from planner.schedule.repacked import verify_repacked, waiting_in


def at(clock: str) -> datetime:
    return datetime.fromisoformat(f"2027-03-01T{clock}").replace(tzinfo=UTC)


def task(step: str, start: str, end: str, person: str, watch: PlacedWatch | None = None) -> Activity:
    return Activity(step, None, None, (), {"lead": person}, at(start), None, at(end), at(end), None, watch)


def plan(version: int, **visits: Activity) -> Schedule:
    placed = tuple(PlacedVisit(who, "short", None, None, (activity,)) for who, activity in visits.items())
    before = None if version == 1 else version - 1
    return Schedule("s", version, before, "", at("07:00"), Outcome.FEASIBLE, len(placed), (), placed)


def bout(end: str, until: str) -> Activity:
    return task("bike", "08:00", end, "K2", PlacedWatch({"lead": "K3"}, at(until)))


@pytest.mark.parametrize(
    ("start", "has_begun"),
    [("08:05", True), ("08:12", False), ("08:21", True)],
    ids=["before", "in", "after"],
)
def test_who_stays_after_a_longer_bout_is_kept_from_its_planned_end(start: str, has_begun: bool):
    """K2's bout lasts to 08:15 and not to 08:10; K3 stays for five minutes, and has somebody else's task."""
    own = task("hello", start, "08:30", "K3")
    moved = task("hello", "08:40", "08:50", "K3")
    before, after = plan(1, P1=bout("08:10", "08:15"), P2=own), plan(2, P1=bout("08:15", "08:20"), P2=moved)
    waits = waiting_in(before, after)
    assert (("P2", "short", "hello") in waits) is not has_begun
    broken = verify_repacked(before, after, at("08:22"), waits)
    assert [one.rule for one in broken if one.rule == "begun"] == ["begun"] * has_begun


def test_what_is_watched_does_not_wait_for_who_watches():
    """P2's own bout has begun though the one who is to stay afterwards is kept elsewhere."""
    before = plan(1, P1=task("hello", "08:00", "08:10", "K3"), P2=bout("08:10", "08:15"))
    longer = task("hello", "08:00", "08:20", "K3")
    moved = replace(before.visits[1].activities[0], start=at("08:05"))
    assert waiting_in(before, plan(2, P1=longer, P2=moved)) == set()
