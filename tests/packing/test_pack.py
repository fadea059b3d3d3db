"""A whole study packed: judged, one spirometer a person, mended by day, honest where it cannot be."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from planner.faults import FaultyInput
from planner.packing.pack import pack, pack_one_day
from planner.schedule.model import Outcome, Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

NOW = datetime(2027, 1, 4, 8, tzinfo=UTC)


def packed(study: Study, seconds: float = 20) -> Schedule:
    return pack(study, visit_plans(study), seconds=seconds, now=NOW)


def spirometers(schedule: Schedule, study: Study, participant: str) -> set[str]:
    rigs = {
        rig
        for visit in schedule.visits
        if visit.participant == participant
        for activity in visit.activities
        for rig in activity.rigs
    }
    return {rig for rig in rigs if "spirometer" in study.rig(rig).classes}


def test_everybody_is_placed_and_the_judge_is_silent(small: Path):
    study = read_study(small)
    made = packed(study)
    assert (made.asked, made.placed, made.not_placed) == (6, 6, ())
    assert verify(made, study, visit_plans(study)).broken == ()
    assert [stage.name for stage in made.stages][:3] == ["placed", "last_day", "waiting_s"]
    assert all(len(spirometers(made, study, name)) == 1 for name in study.participants)


def test_a_stop_keeps_the_best(small: Path):
    study = read_study(small)
    made = pack(study, visit_plans(study), seconds=60, now=NOW, stop=lambda: True)
    assert verify(made, study, visit_plans(study)).broken == ()


def test_a_protocol_that_the_planned_lengths_cannot_keep_is_named(small: Path):
    """2 min, 2 efforts (70 s), MEP, 60 s of preparing: with 3 MEP efforts 6 min 25 s, with 4 later."""
    file = small / "rowing.yaml"
    head, mep = file.read_text("utf-8").split("  mep:\n")
    mep = mep.replace("efforts: 3", "efforts: {at_least: 3, at_most: 5}", 1)
    enough = "    enough: [{reading: MEP, any: 3, within: 10 %}]\n"
    mep = mep.replace(
        "    readings: {MEP: {unit: cmH2O}}\n",
        enough + "    readings: {MEP: {unit: cmH2O, typical: 140 cmH2O, spread: 5 %}}\n",
    )
    mep = mep.replace(
        "at: [2 min, 15 min], early: [0 s, 1 min], late: [1 min, 3 min]", "at: [2 min, 6 min], late: 30 s"
    )
    file.write_text(head + "  mep:\n" + mep, encoding="utf-8")
    made = packed(read_study(small), 10)
    assert made.status is Outcome.IMPOSSIBLE
    assert made.placed == 0
    told = " ".join(reason.message for reason in made.reasons)
    assert "mep" in told
    assert "80 %" in told
    assert "6 min" in told


def test_one_day_anew_leaves_the_others(demo: Path):
    study = read_study(demo)
    before = read_plan(demo / "plan.json", study)
    day = before.dates[0]
    after = pack_one_day(study, visit_plans(study), before, day, seconds=8, now=NOW)
    assert after.version == before.version + 1
    assert [v for v in after.visits if v.date != day] == [v for v in before.visits if v.date != day]
    assert {v.participant for v in after.on(day)} == {v.participant for v in before.on(day)}
    assert verify(after, study, visit_plans(study)).broken == ()


def test_a_day_without_visits_and_another_studys_plan_are_refused(demo: Path, small: Path):
    study = read_study(demo)
    plan = read_plan(demo / "plan.json", study)
    with pytest.raises(FaultyInput, match="no visit"):
        pack_one_day(study, visit_plans(study), plan, date(2027, 10, 22), seconds=2, now=NOW)
    other = json.loads((demo / "plan.json").read_text("utf-8"))
    (small / "plan.json").write_text(json.dumps(other), encoding="utf-8")
    with pytest.raises(FaultyInput):
        pack_one_day(
            read_study(small), visit_plans(read_study(small)), plan, date(2027, 3, 1), seconds=2, now=NOW
        )
