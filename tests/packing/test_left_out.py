"""What goes with a visit that must go, or in its stead."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from planner.packing.head import cannot_stay, judged
from planner.packing.pack import pack
from planner.schedule.model import PlacedVisit, Schedule
from planner.schedule.plans import visit_plans
from planner.study.model import Study

Write = Callable[..., Study]
NOW = datetime(2027, 1, 4, 8, tzinfo=UTC)


@pytest.fixture
def week(one_bench: Write, tmp_path: Path) -> tuple[Study, Schedule]:
    """Two who come three times on days one after another, and their plan."""
    study = one_bench(tmp_path, minutes=(20, 30, 30), days=5, gap="{at_least: 1 d}")
    made = pack(study, visit_plans(study), seconds=2, now=NOW, workers=1)
    assert made.placed == 6
    return study, made


def _later(visit: PlacedVisit, by: timedelta) -> PlacedVisit:
    moved = [
        replace(one, start=one.start + by, end=one.end + by, rig_free=one.rig_free + by)
        for one in visit.activities
    ]
    return replace(visit, activities=tuple(moved))


def _with(made: Schedule, step: str, by: timedelta) -> Schedule:
    """The plan with that visit of P1 so much later."""
    visits = [_later(v, by) if (v.participant, v.file_id) == ("P1", step) else v for v in made.visits]
    return replace(made, visits=tuple(visits))


def _of(made: Schedule, who: str) -> list[str]:
    return sorted(v.file_id for v in made.visits if v.participant == who)


def test_the_last_visit_goes_where_two_are_too_near(one_bench: Write, tmp_path: Path):
    """The second one on the day of the third: both are named, and the third alone has to go."""
    study = one_bench(tmp_path, minutes=(20, 30, 30), days=5, gap="{at_least: 1 d}", people=1)
    plans = visit_plans(study)
    made = pack(study, plans, seconds=2, now=NOW, workers=1)
    days = {visit.file_id: visit.start for visit in made.visits}
    passed = judged(_with(made, "step-2", days["step-3"] - days["step-2"]), study, plans)
    assert _of(passed, "P1") == ["step-1", "step-2"]


def test_no_visit_stays_behind_one_that_is_refused(week: tuple[Study, Schedule]):
    """The first one is set to a time at which the laboratory is closed."""
    study, made = week
    passed = judged(_with(made, "step-1", timedelta(hours=12)), study, visit_plans(study))
    assert _of(passed, "P1") == []
    assert _of(passed, "P2") == ["step-1", "step-2", "step-3"]
    words = {(left.participant, left.visit): left.message for left in passed.not_placed}
    assert "step-1, which must come before it, cannot stay" in words["P1", "step-3"]


def test_other_days_stay_where_one_is_packed_anew(week: tuple[Study, Schedule]):
    study, made = week
    first = next(v.date for v in made.visits if (v.participant, v.file_id) == ("P1", "step-1"))
    passed = judged(_with(made, "step-1", timedelta(hours=12)), study, visit_plans(study), day=first)
    assert _of(passed, "P1") == ["step-2", "step-3"]


def test_whoever_follows_on_the_same_day_cannot_stay_either(one_bench: Write, tmp_path: Path):
    study = one_bench(tmp_path, minutes=(20, 30), days=1)
    plans = visit_plans(study)
    made = pack(study, plans, seconds=2, now=NOW, workers=1)
    bad = _with(made, "step-1", timedelta(hours=-2))
    assert set(cannot_stay(bad, study, plans)) == {("P1", "step-1"), ("P1", "step-2")}
