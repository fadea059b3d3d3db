"""Which plan is in force: one pointer, no kept plan ever lost."""

import json
from dataclasses import replace

import pytest

from planner.faults import FaultyInput
from planner.schedule.in_force import again, in_force, kept_plans, put_in_force
from planner.schedule.plan_file import read_plan


def test_nothing_is_in_force_at_first(tmp_path):
    assert in_force(tmp_path) is None


def test_the_plan_put_in_force(good, study, tmp_path):
    path = put_in_force(tmp_path, good)
    assert path == tmp_path / ".testday" / "plans" / "plan-1.json"
    assert in_force(tmp_path) == path
    assert read_plan(path, study) == good


def test_the_same_plan_again_is_kept_once(good, tmp_path):
    assert put_in_force(tmp_path, good) == put_in_force(tmp_path, good)
    assert len(list((tmp_path / ".testday" / "plans").iterdir())) == 1


def test_another_plan_of_the_same_version_loses_nothing(good, study, tmp_path):
    first = put_in_force(tmp_path, good)
    second = put_in_force(tmp_path, replace(good, solver="another"))
    assert second.name == "plan-1b.json"
    assert in_force(tmp_path) == second
    assert read_plan(first, study) == good


def test_an_older_plan_may_come_back(good, tmp_path):
    first = put_in_force(tmp_path, good)
    put_in_force(tmp_path, replace(good, version=2, replaces=1))
    assert put_in_force(tmp_path, good) == first
    assert in_force(tmp_path) == first


def test_a_spoilt_pointer_is_told(good, tmp_path):
    put_in_force(tmp_path, good)
    (tmp_path / ".testday" / "in-force.json").write_text("{", "utf-8")
    with pytest.raises(FaultyInput, match="not known which plan"):
        in_force(tmp_path)


def test_a_pointer_never_leads_out_of_the_folder(good, tmp_path):
    put_in_force(tmp_path, good)
    (tmp_path / ".testday" / "in-force.json").write_text(json.dumps({"plan": "../../secret.json"}), "utf-8")
    assert in_force(tmp_path) == tmp_path / ".testday" / "plans" / "secret.json"


def test_kept_plans_are_listed_by_version_the_latest_first(good, tmp_path):
    for version in (2, 10, 9):
        put_in_force(tmp_path, replace(good, version=version))
    put_in_force(tmp_path, replace(good, version=9, solver="another"))
    assert [path.stem for path in kept_plans(tmp_path)] == ["plan-10", "plan-9b", "plan-9", "plan-2"]
    assert kept_plans(tmp_path / "elsewhere") == ()


def test_an_earlier_plan_comes_back_as_the_next_one(good, tmp_path):
    fewer = replace(good, version=4, visits=good.visits[1:])
    back = again(good, fewer)
    assert (back.version, back.replaces, back.visits) == (5, 4, good.visits)
    assert good.visits[0].participant in {change.participant for change in back.changes}
