"""Two at once: a visit that nobody asks for breaks no second rule by its own blocks."""

from __future__ import annotations

from pathlib import Path

from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study


def test_who_is_in_the_files_no_more_is_not_taken_twice_by_the_own_bout(demo: Path):
    """Blocks inside a bout share its rig and people; of an unknown visit nobody can say which those are."""
    for file in demo.glob("*.csv"):
        lines = file.read_text("utf-8").splitlines(keepends=True)
        file.write_text("".join(line for line in lines if not line.startswith("ROW-02")), encoding="utf-8")
    study = read_study(demo)
    plan = read_plan(demo / "plan.json", study)
    broken = verify(plan, study, visit_plans(study)).broken
    assert {one.rule for one in broken if one.participant == "ROW-02"} == {"known"}
