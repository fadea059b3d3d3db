"""A whole study packed: judged, one spirometer a person, mended by day, honest where it cannot be."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from planner.clock import DaySpan
from planner.faults import FaultyInput
from planner.packing.core import Answer
from planner.packing.day import pack_day
from planner.packing.pack import pack, pack_one_day, running_from
from planner.packing.problem import key
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


def one_day_with(small: Path, table: str, line: str, day: date) -> tuple[Study, Schedule]:
    """The small study with one more line in a table, and a day of its plan packed anew."""
    file = small / table
    file.write_text(f"{file.read_text('utf-8').rstrip()}\n{line}\n", encoding="utf-8")
    study = read_study(small)
    before = read_plan(Path(__file__).parents[1] / "data" / "small-plan.json", study)
    made = pack_one_day(study, visit_plans(study), before, day, seconds=2, now=NOW)
    assert verify(made, study, visit_plans(study)).broken == ()
    return study, made


def test_a_rig_that_cannot_be_checked_leaves_the_day_with_the_visits_that_need_it(small: Path):
    """All visits of ROW-02 must be on the same spirometer: no other one takes over."""
    line, day = "S1,2027-03-05T00:00,2027-03-05T23:59", date(2027, 3, 5)
    _, made = one_day_with(small, "outages.csv", line, day)
    assert [(one.participant, one.visit) for one in made.not_placed] == [("ROW-02", "rowing-2")]
    assert "S1 is out of use" in made.not_placed[0].message
    assert not [task for task in made.rig_tasks if task.start.date() == day]
    assert made.status is not Outcome.OPTIMAL


def test_a_rig_whose_check_has_nobody_is_not_used_that_day(small: Path):
    """Who checks is there only after the check; the check moves with the visit, or both go."""
    line, day = "K1,2027-03-02T07:00,2027-03-02T08:30", date(2027, 3, 2)
    study, made = one_day_with(small, "absences.csv", line, day)
    used = {(rig, v.date) for v in made.visits for a in v.activities for rig in a.rigs}
    checked = {(task.rig, task.start.date()) for task in made.rig_tasks}
    assert {one for one in used if "spirometer" in study.rig(one[0]).classes} == checked


def test_visits_that_still_fit_stay_on_a_day_that_cannot_hold_all(small: Path):
    """ROW-01 may not come at all that day; the other visit of it keeps its place."""
    line, day = "ROW-01,2027-03-05,08:00,17:00,", date(2027, 3, 4)
    _, made = one_day_with(small, "availability.csv", line, day)
    assert {visit.participant for visit in made.on(day)} == {"ROW-02"}


@pytest.mark.parametrize(
    "line",
    [
        "ROW-02,practice,2027-03-02,,,",
        "ROW-01,rowing-1,2027-03-02,10:15,,",
        "ROW-01,,,,S2,",
        "ROW-02,rowing-2,,,,K3",
        "ROW-02,,,,,K1",
    ],
)
def test_a_fixed_day_time_rig_or_person_is_kept(small: Path, line: str):
    (small / "fixed.csv").write_text(f"participant,visit,date,start,rig,person\n{line}\n", "utf-8")
    file = small / "study.yaml"
    file.write_text(file.read_text("utf-8") + "fixed: fixed.csv\n", "utf-8")
    study = read_study(small)
    free = replace(study, wishes=())
    made = packed(study, 6)
    assert (made.placed, verify(made, study, visit_plans(study)).broken) == (6, ())
    assert verify(made, free, visit_plans(free)).broken == ()  # the wish is a rule beside the others
    who, visit, day, start, rig, person = line.split(",")
    for placed in (v for v in made.visits if v.participant == who and visit in ("", v.file_id)):
        assert str(placed.date) == (day or str(placed.date))
        assert f"{placed.start:%H:%M}" == (start or f"{placed.start:%H:%M}")
        kinds = set(study.rig(rig).classes) if rig else set()
        used = {r for a in placed.activities for r in a.rigs if kinds & set(study.rig(r).classes)}
        assert used <= {rig}
        roles = set(study.person(person).roles) if person else set()
        assert all(person in a.staff.values() for a in placed.activities if roles & set(a.staff))


def test_a_hint_is_taken_up_where_rigs_have_a_first_task(demo: Path, monkeypatch: pytest.MonkeyPatch):
    study = read_study(demo)
    plans, before = visit_plans(study), read_plan(demo / "plan.json", study)
    running = running_from(study, plans, before)
    day = before.dates[0]
    asked = [v for p in running.on(day) for v in study.asked[p.participant] if key(v) == key(p)]
    problem = running.problem(day, asked)
    assert study.before_first_use
    monkeypatch.setattr(
        "planner.packing.day.greedy",
        lambda core, **_: Answer((None,) * len(core.jobs), (None,) * len(core.jobs)),
    )
    result = pack_day(problem, seconds=1, stages=("placed",), hint=running.on(day), stop=lambda: True)
    assert {key(v) for v in result.visits} == {key(v) for v in before.on(day)}


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


def test_far_more_than_could_ever_come_are_packed_from_the_first_and_the_wished_for(small: Path):
    """Thirty participants, four open days of three visits each: 12 of 90 at most; the others are named."""
    codes = [f"ROW-{number:02}" for number in range(1, 31)]
    (small / "participants.csv").write_text("\n".join(["participant", *codes, ""]), encoding="utf-8")
    study = read_study(small)
    made = packed(study, 3)
    assert made.asked == 90
    assert 0 < made.placed <= 12
    assert len(made.not_placed) == made.asked - made.placed
    assert made.status is Outcome.IMPOSSIBLE


def test_all_visits_of_a_participant_come_on_the_only_day_where_that_may_be(small: Path):
    study = read_study(small)
    day = min(study.open)
    one_day = tuple((line, None) for line in study.open[day])
    asked = {"ROW-01": tuple(replace(v, gap=None) for v in study.asked["ROW-01"])}
    study = replace(study, participants=("ROW-01",), asked=asked, available={"ROW-01": one_day})
    schedule = packed(study)
    assert [(v.date, v.file_id) for v in schedule.visits] == [(day, v.file_id) for v in asked["ROW-01"]]
    assert verify(schedule, study, visit_plans(study)).broken == ()


def test_where_nobody_can_have_all_visits_those_that_can_come_are_placed(small: Path):
    """Practice on the first day and the first rowing on the fifth, or two rowings: all three never fit."""
    study = read_study(small)
    asked = {
        who: tuple(replace(v, gap=DaySpan(4, 4) if n else None) for n, v in enumerate(visits))
        for who, visits in study.asked.items()
    }
    schedule = packed(replace(study, asked=asked))
    assert schedule.status is Outcome.IMPOSSIBLE
    assert sorted(v.file_id for v in schedule.visits) == ["practice", "practice", "rowing-1", "rowing-1"]
