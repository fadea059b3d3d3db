"""A study lives: lines that were written since the plan was made are mended like troubles that are told."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from planner.packing.mend.by_files import ByFiles, by_files
from planner.packing.mend.troubles import Troubles
from planner.packing.repack import repack
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.repacked import verify_repacked, waiting_in
from planner.schedule.verify import verify
from planner.study.read import read_study

PLAN = Path(__file__).parents[2] / "data" / "small-plan.json"
BEFORE = "2027-02-28T12:00"


def add(folder: Path, table: str, *lines: str) -> None:
    file = folder / table
    file.write_text("\n".join([file.read_text("utf-8").rstrip(), *lines, ""]), encoding="utf-8")


def mend(folder: Path, now: str = BEFORE) -> tuple[Schedule, Schedule]:
    """The plan before and the mended one, once both judges are silent."""
    study = read_study(folder)
    plans, before = visit_plans(study), read_plan(PLAN, study)
    at = datetime.fromisoformat(now).replace(tzinfo=study.zone)
    made = repack(study, plans, before, now=at, troubles=Troubles(), seconds=10, heeds_files=True)
    assert [b.message for b in verify(made, study, plans).broken] == []
    assert [b.message for b in verify_repacked(before, made, at, waiting_in(before, made))] == []
    return before, made


def moved(before: Schedule, made: Schedule) -> set[tuple[str, str]]:
    after = {(v.participant, v.file_id): v for v in made.visits}
    return {(v.participant, v.file_id) for v in before.visits if after.get((v.participant, v.file_id)) != v}


def test_who_may_come_in_the_afternoon_only_moves_on_each_day_and_nobody_else(small: Path):
    """The first rowing may go far from the second in the time of day, for that one moves too."""
    add(small, "availability.csv", "ROW-01,mon-fri,12:00,17:00,")
    before, made = mend(small)
    assert moved(before, made) == {("ROW-01", name) for name in ("practice", "rowing-1", "rowing-2")}
    assert (made.placed, made.not_placed) == (6, ())
    assert all(visit.start.hour >= 12 for visit in made.visits if visit.participant == "ROW-01")
    assert [v.date for v in made.visits] == [v.date for v in before.visits]
    assert made.fingerprint != before.fingerprint


def test_a_rig_that_is_out_for_a_day_takes_its_check_and_the_visit_with_it(small: Path):
    add(small, "outages.csv", "S1,2027-03-05T00:00,2027-03-05T23:59")
    before, made = mend(small)
    assert moved(before, made) == {("ROW-02", "rowing-2")}
    assert [(left.participant, left.visit) for left in made.not_placed] == [("ROW-02", "rowing-2")]
    assert not [task for task in made.rig_tasks if task.start.date().day == 5]
    assert made.status.value != "optimal"


def test_who_is_absent_is_replaced_on_that_day(small: Path):
    add(small, "absences.csv", "K2,2027-03-05T00:00,2027-03-06T00:00")
    before, made = mend(small)
    assert moved(before, made) <= {("ROW-02", "rowing-2")}
    serving = {who for v in made.visits if v.date.day == 5 for a in v.activities for who in a.staff.values()}
    assert "K2" not in serving


def test_who_has_left_the_study_leaves_the_plan_and_nothing_else_moves(small: Path):
    (small / "participants.csv").write_text("participant\nROW-01\n", encoding="utf-8")
    file = small / "availability.csv"
    kept = [line for line in file.read_text("utf-8").splitlines() if not line.startswith("ROW-02")]
    file.write_text("\n".join([*kept, ""]), encoding="utf-8")
    study = read_study(small)
    before, made = mend(small)
    assert {visit.participant for visit in made.visits} == {"ROW-01"}
    assert [v for v in before.visits if v.participant == "ROW-01"] == list(made.visits)
    assert made.asked == sum(map(len, study.asked.values()))
    assert any("asks for no such visit any more" in change.message for change in made.changes)


def test_what_has_been_is_no_matter(small: Path):
    """No Mondays: the practice of the first of March is over on the second."""
    add(small, "availability.csv", "ROW-01,tue-fri,08:00,17:00,")
    study = read_study(small)
    plans, before = visit_plans(study), read_plan(PLAN, study)
    at = datetime.fromisoformat("2027-03-02T07:00").replace(tzinfo=study.zone)
    assert by_files(study, plans, before, at) == ByFiles()
    made = repack(study, plans, before, now=at, troubles=Troubles(), seconds=10, heeds_files=True)
    assert made.visits == before.visits


def test_a_day_that_is_closed_by_now_is_left_with_its_checks(small: Path):
    file = small / "study.yaml"
    file.write_text(file.read_text("utf-8").replace("[2027-03-03]", "[2027-03-03, 2027-03-05]"), "utf-8")
    before, made = mend(small)
    assert ("ROW-02", "rowing-2") in moved(before, made)
    assert not [one for one in made.rig_tasks if one.start.date().day == 5]


@pytest.mark.parametrize("now", [BEFORE, "2027-03-02T08:30"])
def test_files_that_allow_all_of_it_change_nothing(small: Path, now: str):
    add(small, "availability.csv", "ROW-01,mon-fri,07:00,17:00,")
    before, made = mend(small, now)
    assert made.visits == before.visits
    assert made.changes == ()
