"""What a mended plan may say of several days: each of them might do with the same participants."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from planner.packing.mend.aims import AIMS
from planner.packing.mend.claims import Mended, mend_stages
from planner.packing.mend.day import MendedDay
from planner.schedule.model import Change, Outcome
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

PLAN = Path(__file__).parents[2] / "data" / "small-plan.json"


def test_participants_of_two_days_are_not_proven_to_be_others(small: Path):
    """One on each day, proven for the day: both days might have done with the same one."""
    study = read_study(small)
    before = read_plan(PLAN, study)
    changes = tuple(
        Change(visit.participant, visit.file_id, "moved", step=one.step, manoeuvre=one.manoeuvre)
        for visit in (before.visits[0], before.visits[-1])
        for one in visit.activities[:1]
    )
    counts = dict.fromkeys(AIMS, 0) | {"participants_touched": 1, "blocks_changed": 1}
    days = (MendedDay((), (), values=counts, bounds=counts),) * 2
    after = replace(before, version=2, replaces=1, changes=changes)
    stages = {one.name: one for one in mend_stages(Mended(before, after, days, ()), study)}
    touched = stages["participants_touched"]
    assert (touched.value, touched.bound, touched.status) == (2, 1, Outcome.FEASIBLE)
    assert stages["blocks_changed"].status is Outcome.OPTIMAL
