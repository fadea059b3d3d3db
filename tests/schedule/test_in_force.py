"""Which plan is in force: one pointer, no kept plan ever lost."""

import json
from dataclasses import replace

import pytest

from planner.faults import FaultyInput
from planner.schedule.in_force import in_force, put_in_force
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
