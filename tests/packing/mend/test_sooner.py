"""Who must come sooner than they were told is said first, and by how much."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from planner.packing.mend.sooner import with_sooner_first
from planner.schedule.changes import changes
from planner.schedule.model import PlacedVisit, Schedule
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture
def plan() -> Schedule:
    return read_plan(DATA / "small-plan.json", read_study(DATA / "small"))


def moved(visit: PlacedVisit, minutes: int, activities: int | None = None) -> PlacedVisit:
    """The visit with its first activities, or all, so much later (sooner, if negative)."""
    by = timedelta(minutes=minutes)
    own = [
        replace(a, start=a.start + by, end=a.end + by, rig_free=a.rig_free + by)
        if activities is None or i < activities
        else a
        for i, a in enumerate(visit.activities)
    ]
    return replace(visit, activities=tuple(own))


def mended(plan: Schedule, *new: PlacedVisit) -> Schedule:
    names = {(v.participant, v.file_id): v for v in new}
    return replace(plan, visits=tuple(names.get((v.participant, v.file_id), v) for v in plan.visits))


def visit(plan: Schedule, participant: str) -> PlacedVisit:
    return next(v for v in plan.visits if (v.participant, v.file_id) == (participant, "rowing-1"))


@pytest.mark.parametrize("activities", [None, 1])
def test_a_visit_that_starts_sooner_is_said_first_and_by_how_much(plan: Schedule, activities: int | None):
    after = mended(plan, moved(visit(plan, "ROW-01"), 5), moved(visit(plan, "ROW-02"), -63, activities))
    after = replace(after, made=min(v.start for v in after.visits) - timedelta(hours=1))
    found = with_sooner_first(changes(plan, after), plan, after)
    assert found[0].participant == "ROW-02"
    assert found[0].message.endswith(", 63 min earlier than told")
    assert [c.participant for c in found if "earlier" in c.message] == ["ROW-02"]
    assert len(found) == len(changes(plan, after))


def test_a_visit_that_keeps_its_start_or_comes_later_is_not_called_sooner(plan: Schedule):
    later = moved(visit(plan, "ROW-02"), 5)
    last = visit(plan, "ROW-01").activities[-1]
    back = replace(last, start=last.start - timedelta(minutes=1))
    kept = replace(visit(plan, "ROW-01"), activities=(*visit(plan, "ROW-01").activities[:-1], back))
    after = mended(plan, later, kept)
    assert with_sooner_first(changes(plan, after), plan, after) == changes(plan, after)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, ": at once, no notice"), (59, ": at once, no notice"), (600, ": 10 min notice"), (3600, "")],
)
def test_how_long_somebody_has_to_come_is_said_where_it_is_less_than_an_hour(
    plan: Schedule, seconds: int, words: str
):
    sooner = moved(visit(plan, "ROW-02"), -63)
    after = replace(mended(plan, sooner), made=sooner.start - timedelta(seconds=seconds))
    found = with_sooner_first(changes(plan, after), plan, after)
    assert found[0].message.endswith(f", 63 min earlier than told{words}")
