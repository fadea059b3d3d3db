"""What a visit that has begun can no longer do is given up, and nothing else of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from planner.packing.mend.facts import facts
from planner.packing.mend.ring import RingSearch
from planner.packing.mend.study import with_troubles
from planner.packing.mend.troubles import Troubles
from planner.packing.mend.undone import give_up_undone, time_points
from planner.packing.problem import key
from planner.packing.repack import repack
from planner.packing.running import Running
from planner.schedule.model import Activity, Outcome, PlacedVisit, Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture(scope="module")
def study() -> Study:
    return read_study(DATA / "treadmill_day")


@pytest.fixture(scope="module")
def plan(study: Study) -> Schedule:
    """The first three visits of the day of twelve."""
    whole = read_plan(DATA / "treadmill_day-plan.json", study)
    kept = tuple(sorted(whole.visits, key=lambda v: v.start)[:3])
    return replace(whole, visits=kept, not_placed=(), stages=(), status=Outcome.FEASIBLE)


def first(schedule: Schedule) -> PlacedVisit:
    return min(schedule.visits, key=lambda visit: (visit.start, visit.participant))


def running_of(schedule: Schedule) -> tuple[datetime, datetime]:
    """Five minutes into the first visit's bout, and the end of the day."""
    (run,) = (a for a in first(schedule).activities if a.step == "run")
    return run.start + timedelta(minutes=5), run.start.replace(hour=17, minute=0, second=0)


def mended(study: Study, plan: Schedule, now: datetime, **troubles: object) -> Schedule:
    told = Troubles(**troubles)  # type: ignore[arg-type]
    found = repack(study, visit_plans(study), plan, now=now, troubles=told, seconds=20)
    assert [b.message for b in verify(found, study, visit_plans(study)).broken] == []
    return found


def manoeuvres(activities: tuple[Activity, ...], after: datetime) -> set[str | None]:
    return {a.manoeuvre for a in activities if a.start > after and a.manoeuvre}


def test_meters_out_for_the_day_take_their_own_blocks_and_no_others(study: Study, plan: Schedule) -> None:
    now, close = running_of(plan)
    out = (("M1", now, close), ("M2", now, close))
    found = mended(study, plan, now, out_of_use=out)
    old, new = first(plan), next(v for v in found.visits if key(v) == key(first(plan)))
    assert manoeuvres(old.activities, now) == {"fvc", "mip", "mep"}
    assert manoeuvres(new.activities, now) == {"fvc"}
    assert len([a for a in new.activities if a.manoeuvre == "fvc"]) == 4
    stages = {stage.name: (stage.value, stage.bound) for stage in found.stages}
    assert stages["demands_missed"] == (3, 3)  # pressures at 5, 15 and 30 min: none can be kept


def test_without_the_bout_there_is_nothing_to_measure_after_it(study: Study, plan: Schedule) -> None:
    now, close = running_of(plan)
    found = mended(study, plan, now, out_of_use=(("B1", now, close),))
    new = next(v for v in found.visits if key(v) == key(first(plan)))
    assert {a.step for a in new.activities} == {"consent", "before", "recover"}


def test_a_trouble_that_leaves_time_enough_gives_up_nothing(study: Study, plan: Schedule) -> None:
    now, _ = running_of(plan)
    out = (("M1", now, now + timedelta(minutes=40)), ("M2", now, now + timedelta(minutes=40)))
    found = mended(study, plan, now, out_of_use=out)
    assert [change.message for change in found.changes if change.kind == "dropped"] == []
    assert {change.kind for change in found.changes} >= {"window missed"}


def test_what_is_given_up_is_counted_by_time_points_and_all_of_it_is_sure(
    study: Study, plan: Schedule
) -> None:
    now, close = running_of(plan)
    told = Troubles(out_of_use=(("M1", now, close), ("M2", now, close)))
    known = facts(study, visit_plans(study), plan, now.date(), now, told)
    visits = {key(v): v for v in plan.visits}
    rings = RingSearch(Running(with_troubles(study, now, told), visit_plans(study), visits, {}), known, ())
    assert give_up_undone(rings) == 0
    gone = {s.placed.participant: time_points(s, s.gone) for s in known.standings if s.gone}
    assert gone[first(plan).participant] == 3


def test_a_bout_that_is_to_be_done_once_more_is_said_with_who_decides(study: Study, plan: Schedule) -> None:
    """A maximal bout was planned twice, and only its new time told of it."""
    now, _ = running_of(plan)
    found = mended(study, plan, now, out_of_use=(("B1", now, now + timedelta(minutes=10)),))
    (words,) = [reason.message for reason in found.reasons]
    assert "run was broken off, and stands in the plan once more, in full, at" in words
    assert words.endswith("the person in charge decides whether it is done again")


def test_a_bout_is_said_once_with_all_the_blocks_in_it(demo: Path) -> None:
    """ROW-10 rows from 08:24 on, and the measures of the tenth minute have been taken."""
    study = read_study(demo)
    now = datetime(2027, 10, 20, 8, 40, tzinfo=study.zone)
    plan = read_plan(demo / "plan.json", study)
    found = mended(study, plan, now, out_of_use=(("E1", now, now + timedelta(minutes=10)),))
    (words,) = [reason.message for reason in found.reasons if reason not in plan.reasons]
    assert "ROW-10, rowing-2: step row was broken off" in words
