"""A plan beside the files as they stand now: what it breaks, and what makes it a plan of other visits."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

from planner.schedule.as_it_stands import (
    broken_as_it_stands,
    broken_beside,
    files_changed,
    newcomers,
    strange,
    strange_visit,
)
from planner.schedule.model import Broken
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DATA = Path(__file__).parents[1] / "data"
PLAN = DATA / "small-plan.json"


def _broken(folder: Path) -> tuple[Broken, ...]:
    study = read_study(folder)
    return broken_as_it_stands(read_plan(PLAN, study), study, visit_plans(study))


def _edit(folder: Path, name: str, old: str, new: str) -> None:
    file = folder / name
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def _take_out(folder: Path, participant: str) -> None:
    """As if nobody had ever heard of that one."""
    for name in ("participants.csv", "availability.csv"):
        lines = (folder / name).read_text("utf-8").splitlines(keepends=True)
        kept = [line for line in lines if not line.startswith(participant)]
        (folder / name).write_text("".join(kept), encoding="utf-8")


def test_a_plan_of_these_very_files_breaks_nothing(small: Path):
    study = read_study(small)
    schedule = read_plan(PLAN, study)
    assert _broken(small) == ()
    assert not files_changed(schedule, study)
    assert not files_changed(replace(schedule, fingerprint=""), study)  # made elsewhere: nothing is known


def test_who_is_asked_for_since_is_no_broken_rule(small: Path):
    """Nobody was wrong to leave out a participant who was not there yet."""
    (small / "participants.csv").write_text("participant\nROW-01\nROW-02\nROW-03\n", encoding="utf-8")
    _edit(small, "study.yaml", "order: balanced", "order: listed")
    study = read_study(small)
    schedule = read_plan(PLAN, study)
    assert {visit.participant for visit in newcomers(schedule, study)} == {"ROW-03"}
    assert "all-asked" not in {one.rule for one in _broken(small)}
    assert files_changed(schedule, study)


def test_other_hours_break_rules_and_the_visits_are_still_these(small: Path):
    _edit(small, "staff.csv", "K3,lead;cheek support", "K3,cheek support")
    broken = _broken(small)
    assert broken
    assert strange(broken) == ()


def test_a_code_or_a_step_that_is_gone_makes_it_a_plan_of_other_visits(small: Path, tmp_path: Path):
    other = tmp_path / "other"
    shutil.copytree(small, other)
    _take_out(small, "ROW-02")
    assert {(one.rule, one.participant) for one in strange(_broken(small))} == {("known", "ROW-02")}
    _edit(other, "practice.yaml", "id: welcome", "id: greeting")
    assert {(one.rule, one.visit) for one in strange(_broken(other))} == {("activities", "practice")}


def test_a_day_that_is_packed_anew_mends_its_own_visits_only(small: Path):
    _edit(small, "practice.yaml", "id: welcome", "id: greeting")
    study = read_study(small)
    schedule = read_plan(PLAN, study)
    plans = visit_plans(study)
    days = {visit.date for visit in schedule.visits if visit.visit == "practice"}
    assert days == {date(2027, 3, 1)}
    assert broken_beside(schedule, study, plans, date(2027, 3, 1)) == ()
    assert broken_beside(schedule, study, plans, date(2027, 3, 5)) == strange(_broken(small)) != ()


def test_a_visit_that_nobody_asks_for_stays_whatever_day_is_packed(small: Path):
    _take_out(small, "ROW-02")
    study = read_study(small)
    schedule = read_plan(PLAN, study)
    assert broken_beside(schedule, study, visit_plans(study), date(2027, 3, 1)) == strange(_broken(small))


def test_a_check_of_another_day_by_somebody_gone_stays_whatever_day_is_packed(small: Path):
    """It belongs to no visit, so that none can be left out for it."""
    study = read_study(small)
    schedule = read_plan(PLAN, study)
    plans = visit_plans(study)
    first, second = sorted({task.start.date() for task in schedule.rig_tasks})[:2]
    gone = [
        replace(task, staff={"operator": "K9"}) if task.start.date() == first else task
        for task in schedule.rig_tasks
    ]
    edited = replace(schedule, rig_tasks=tuple(gone))
    assert broken_beside(edited, study, plans, first) == ()
    assert "K9" in broken_beside(edited, study, plans, second)[0].message


def test_one_visit_is_judged_by_itself(small: Path):
    _take_out(small, "ROW-02")
    study = read_study(small)
    schedule, plans = read_plan(PLAN, study), visit_plans(study)
    odd = {one.participant for one in schedule.visits if strange_visit(one, schedule, study, plans)}
    assert odd == {"ROW-02"}
