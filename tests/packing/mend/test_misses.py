"""What a mended visit can no longer keep is named, counted and no more than that."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from planner.packing.mend.troubles import Troubles
from planner.packing.pack import pack
from planner.packing.repack import repack
from planner.schedule.changes import WINDOW_MISSED
from planner.schedule.model import Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

PROTOCOL = """format: 1
name: short
title: A short bout
version: "1"
cautions: [Stop when the participant asks to.]
visit:
  - {id: hello, title: Arrival, takes: 10 min, staff: [lead]}
  - {id: run, title: Running, exercise: true, takes: 10 min, rig: treadmill, staff: [lead],
     starts_within: 5 min, watch: {staff: lead, for: 20 min}}
  - {id: pause, title: Sitting, rest: 5 min}
  - {id: sit, title: Questions afterwards, takes: 10 min, staff: [lead]}
"""
STUDY = """format: 1
name: short-day
time_zone: Europe/Oslo
visits: [{id: only, protocol: short.yaml}]
days: {from: 2027-03-01, to: 2027-03-01, open: {mon: "08:00-12:00"}}
rigs: {treadmill: [B1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
"""


@pytest.fixture
def study(tmp_path: Path) -> Study:
    tables = {
        "short.yaml": PROTOCOL,
        "study.yaml": STUDY,
        "staff.csv": "person,roles\nT1,lead\nT2,lead\n",
        "shifts.csv": "person,days,from,to,breaks\nT1,mon,08:00,12:00,\nT2,mon,08:00,12:00,\n",
        "participants.csv": "participant\nQ01\n",
    }
    for name, text in tables.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return read_study(tmp_path)


@pytest.fixture
def plan(study: Study) -> Schedule:
    now = datetime(2027, 3, 1, 7, tzinfo=study.zone)
    return pack(study, visit_plans(study), seconds=3, now=now, workers=1)


def start(schedule: Schedule, step: str) -> datetime:
    return next(a.start for v in schedule.visits for a in v.activities if a.step == step)


def test_a_step_that_cannot_follow_soon_enough_comes_later_and_is_named(study: Study, plan: Schedule) -> None:
    """The visit went without its bout and all after it, and counted as kept."""
    began = start(plan, "hello")
    now = began + timedelta(minutes=2)
    told = Troubles(out_of_use=(("B1", now, began + timedelta(minutes=40)),))
    mended = repack(study, visit_plans(study), plan, now=now, troubles=told, seconds=5)
    assert start(mended, "run") == began + timedelta(minutes=40)
    (missed,) = [change for change in mended.changes if change.kind == WINDOW_MISSED]
    assert (missed.step, "25 min" in missed.message) == ("run", True)  # 30 min after, 5 are allowed
    judged = verify(mended, study, visit_plans(study))
    assert judged.broken == ()
    assert any(warning.rule == "starts-within" for warning in judged.warnings)


def test_unnamed_a_step_that_follows_too_late_is_broken(study: Study, plan: Schedule) -> None:
    began = start(plan, "hello")
    now = began + timedelta(minutes=2)
    told = Troubles(out_of_use=(("B1", now, began + timedelta(minutes=40)),))
    mended = repack(study, visit_plans(study), plan, now=now, troubles=told, seconds=5)
    silent = replace(mended, changes=tuple(c for c in mended.changes if c.kind != WINDOW_MISSED))
    assert "starts-within" in {b.rule for b in verify(silent, study, visit_plans(study)).broken}


def test_who_is_away_serves_nothing_new_while_their_watch_goes_on(study: Study, plan: Schedule) -> None:
    """The step after the bout stayed with somebody who had gone, for they still were to watch."""
    (visit,) = plan.visits
    run = next(a for a in visit.activities if a.step == "run")
    assert run.watch
    (watcher,) = run.watch.staff.values()
    by_one = [replace(a, staff={"lead": watcher}) if a.step == "sit" else a for a in visit.activities]
    plan = replace(plan, visits=(replace(visit, activities=tuple(by_one)),))
    now = run.end + timedelta(minutes=1)
    told = Troubles(absent=((watcher, now, now + timedelta(hours=1)),))
    mended = repack(study, visit_plans(study), plan, now=now, troubles=told, seconds=5)
    sit = next(a for a in mended.visits[0].activities if a.step == "sit")
    assert sit.staff["lead"] != watcher
    assert sit.start == start(plan, "sit")
    (reason,) = mended.reasons
    assert f"{watcher} stays with them after run until" in reason.message
