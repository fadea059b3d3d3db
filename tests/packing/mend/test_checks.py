"""A check of a rig that cannot be done as planned: at another time or by somebody else, before first use."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from planner.packing.mend.troubles import Troubles
from planner.packing.repack import repack
from planner.schedule.model import RigTask, Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.repacked import verify_repacked
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"
FRIDAY = "2027-03-05"  # S1 is checked by K2 from 8 to 8:10, and first used at 10:10


@pytest.fixture
def study(small: Path) -> Study:
    return read_study(small)


@pytest.fixture
def plan(study: Study) -> Schedule:
    return read_plan(DATA / "small-plan.json", study)


def at(study: Study, clock: str) -> datetime:
    return datetime.fromisoformat(f"{FRIDAY}T{clock}").replace(tzinfo=study.zone)


def mended(study: Study, plan: Schedule, now: str, **troubles: object) -> Schedule:
    """The mended plan, of which both judges have nothing to say."""
    told = Troubles(**troubles)  # type: ignore[arg-type]
    plans, moment = visit_plans(study), at(study, now)
    found = repack(study, plans, plan, now=moment, troubles=told, seconds=10)
    assert [b.message for b in verify(found, study, plans).broken] == []
    assert [b.message for b in verify_repacked(plan, found, moment)] == []
    return found


def check(schedule: Schedule) -> RigTask:
    (task,) = (one for one in schedule.rig_tasks if one.start.date().isoformat() == FRIDAY)
    return task


def told(found: Schedule, plan: Schedule) -> list[str]:
    return [reason.message for reason in found.reasons if reason not in plan.reasons]


@pytest.mark.parametrize("now", ["07:30", "08:00"])
def test_a_rig_that_is_out_during_its_check_is_checked_once_it_is_back(
    study: Study, plan: Schedule, now: str
) -> None:
    found = mended(study, plan, now, out_of_use=(("S1", at(study, "08:00"), at(study, "08:30")),))
    assert check(found) == replace(
        check(plan), start=at(study, "08:30"), end=at(study, "08:40")
    )  # and no later
    assert found.visits == plan.visits
    assert [change.kind for change in found.changes] == ["moved"]
    assert told(found, plan) == []


def test_who_was_to_check_and_is_away_too_long_leaves_it_to_somebody_else(
    study: Study, plan: Schedule
) -> None:
    found = mended(study, plan, "07:30", absent=(("K2", at(study, "08:00"), at(study, "09:00")),))
    assert dict(check(found).staff) == {"operator": "K1"}
    assert check(found).start == check(plan).start
    assert found.visits == plan.visits


def test_who_comes_some_minutes_late_checks_then(study: Study, plan: Schedule) -> None:
    found = mended(study, plan, "07:30", absent=(("K2", at(study, "08:00"), at(study, "08:05")),))
    assert check(found) == replace(check(plan), start=at(study, "08:05"), end=at(study, "08:15"))


def test_no_visit_begins_on_a_rig_before_its_check_has_moved_there(study: Study, plan: Schedule) -> None:
    """S1 is back five minutes before it is needed: the visit waits for the check."""
    found = mended(study, plan, "07:30", out_of_use=(("S1", at(study, "08:00"), at(study, "10:05")),))
    first = min(
        a.start for v in found.visits for a in v.activities if "S1" in a.rigs and a.start > at(study, "07:00")
    )
    assert check(found).end <= first
    assert check(found).start >= at(study, "10:05")


def test_a_check_in_which_the_rig_fails_is_done_again_and_that_is_said(study: Study, plan: Schedule) -> None:
    found = mended(study, plan, "08:04", out_of_use=(("S1", at(study, "08:04"), at(study, "08:20")),))
    assert check(found).start == at(study, "08:20")
    assert told(found, plan) == [
        "check of S1 at 08:00 was broken off, and stands in the plan once more, in full, at 08:20; "
        "the person in charge decides whether it is done again"
    ]


def test_a_check_whose_person_leaves_needs_somebody_else_and_that_is_said(
    study: Study, plan: Schedule
) -> None:
    found = mended(study, plan, "08:04", absent=(("K2", at(study, "08:04"), at(study, "09:00")),))
    assert check(found) == check(plan)
    assert told(found, plan) == [
        "check of S1 has begun with K2 and lasts until 08:10: it stays as it was; somebody must take over"
    ]


def test_a_check_that_is_over_is_none_of_a_later_trouble(study: Study, plan: Schedule) -> None:
    found = mended(study, plan, "08:30", out_of_use=(("S1", at(study, "08:30"), at(study, "09:00")),))
    assert check(found) == check(plan)
    assert found.changes == ()


def test_a_check_waits_for_the_person_who_is_kept_longer_elsewhere(study: Study, plan: Schedule) -> None:
    """K1 welcomes ROW-02 in place of a check that was to follow: the welcome lasts longer than planned."""
    tasks = tuple(
        replace(t, staff={"operator": "K1"}, start=at(study, "10:10"), end=at(study, "10:20"))
        if t == check(plan)
        else t
        for t in plan.rig_tasks
    )
    later_on = tuple(_on_s1_after_its_check(v) for v in plan.visits)
    moved = replace(plan, rig_tasks=tasks, visits=later_on)
    ended = {("ROW-02", "welcome"): at(study, "10:14")}
    told_of = Troubles(ended=ended)
    found = repack(study, visit_plans(study), moved, now=at(study, "10:12"), troubles=told_of, seconds=10)
    assert [b.message for b in verify(found, study, visit_plans(study)).broken] == []
    assert dict(check(found).staff) != {"operator": "K1"} or check(found).start >= at(study, "10:14")


def _on_s1_after_its_check(visit):  # type: ignore[no-untyped-def]
    """Friday's visit with all but its welcome ten minutes later."""
    if visit.date.isoformat() != FRIDAY:
        return visit
    ten = timedelta(minutes=10)
    moved = []
    for one in visit.activities:
        if one.step != "welcome":
            watch = one.watch and replace(one.watch, end=one.watch.end + ten)
            first = one.first_effort and one.first_effort + ten
            one = replace(
                one,
                start=one.start + ten,
                end=one.end + ten,
                rig_free=one.rig_free + ten,
                first_effort=first,
                watch=watch,
            )
        moved.append(one)
    return replace(visit, activities=tuple(moved))
