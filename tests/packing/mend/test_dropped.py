"""What is left out of a mended plan says which trouble it comes from."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from planner.packing.mend.dropped import Told, with_reasons
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import key
from planner.packing.repack import repack
from planner.schedule.changes import changes
from planner.schedule.model import Outcome, PlacedVisit, RigTask, Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.rules.case import clock
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
    return replace(whole, visits=kept, asked=3, not_placed=(), stages=(), status=Outcome.FEASIBLE)


def first(schedule: Schedule) -> PlacedVisit:
    return min(schedule.visits, key=lambda visit: (visit.start, visit.participant))


def left_out(
    before: Schedule, after: Schedule, now: datetime, why: str = "", **troubles: object
) -> list[str]:
    """What is said of each thing that is left out, after how it is called and when it was."""
    lost = {key(first(before)): why} if why else {}
    told = Told(before, Troubles(**troubles), now, lost)  # type: ignore[arg-type]
    said = with_reasons(changes(before, after), told)
    return [one.message.rpartition("): ")[2] for one in said if one.kind == "dropped"]


def without(plan: Schedule, *steps: str) -> Schedule:
    """The plan without these steps of the first visit; without any, the whole visit."""
    visit = first(plan)
    kept = tuple(one for one in visit.activities if one.step not in steps)
    rest = tuple(one for one in plan.visits if one is not visit)
    return replace(plan, visits=(replace(visit, activities=kept), *rest) if steps else rest)


def test_a_step_names_its_rig_that_is_out_of_use(study: Study, plan: Schedule):
    (run,) = (one for one in first(plan).activities if one.step == "run")
    now, close = run.start + timedelta(minutes=5), run.start.replace(hour=17, minute=0, second=0)
    troubles = Troubles(out_of_use=(("B1", now, close),))
    found = repack(study, visit_plans(study), plan, now=now, troubles=troubles, seconds=20)
    said = [one for one in found.changes if one.kind == "dropped"]
    why = f": B1 is out of use from {now:%H:%M:%S} to 17:00"
    assert {"run", "after-30"} <= {one.step for one in said}
    assert all(one.message.endswith(why) for one in said if one.step), "what was to follow the bout as well"
    assert all(
        one.message.endswith(f"no place left on {now.date()}; {why[2:]}") for one in said if not one.step
    )


def test_a_step_names_who_of_its_people_is_not_there(plan: Schedule):
    (run,) = (one for one in first(plan).activities if one.step == "run")
    person = next(iter(run.staff.values()))
    now = run.start - timedelta(minutes=5)
    away = ((person, run.start, run.end), ("K99", run.start, run.end))
    (said,) = left_out(plan, without(plan, "run"), now, absent=away)
    assert said.startswith(f"{person} is not there from ")
    assert "K99" not in said


def test_a_visit_that_is_cancelled_says_so(plan: Schedule):
    visit = first(plan)
    why = f"cancelled on {visit.date}"
    assert left_out(plan, without(plan), visit.start, why, cancelled=(visit.participant,)) == [why]


def test_a_visit_without_a_place_says_what_took_it(plan: Schedule):
    visit = first(plan)
    why = f"it has no place left on {visit.date}"
    said = left_out(plan, without(plan), visit.start, why, late={visit.participant: 45})
    assert said == [f"{why}; {visit.participant} is 45 min late"]


def test_a_visit_that_makes_room_names_what_hits_others(plan: Schedule):
    other = next(one for one in plan.visits if one is not first(plan))
    (said,) = left_out(plan, without(plan), other.start, late={other.participant: 30})
    assert said == f"{other.participant} is 30 min late"


def test_a_check_says_that_nobody_needs_it_any_more(plan: Schedule):
    start = first(plan).start
    check = RigTask("S1", {"operator": "K1"}, start, start + timedelta(minutes=5))
    checked, now = replace(plan, rig_tasks=(check,)), start - timedelta(hours=1)
    (said,) = with_reasons(changes(checked, plan), Told(checked, Troubles(), now, {}))
    assert said.message.endswith("dropped: nobody uses S1 any more that day")
    fails = Troubles(out_of_use=(("S1", start, start + timedelta(hours=1)),))
    (said,) = with_reasons(changes(checked, plan), Told(checked, fails, now, {}))
    assert said.message.endswith(
        f"dropped: S1 is out of use from {clock(start)} to {clock(fails.out_of_use[0][2])}"
    )


def test_a_mended_plan_names_the_cause_in_its_list(study: Study, plan: Schedule):
    visit = first(plan)
    troubles = Troubles(cancelled=(visit.participant,))
    now = visit.start - timedelta(hours=1)
    found = repack(study, visit_plans(study), plan, now=now, troubles=troubles, seconds=5)
    (said,) = (one.message for one in found.changes if one.kind == "dropped" and one.visit)
    assert said.endswith(f": cancelled on {visit.date}")
