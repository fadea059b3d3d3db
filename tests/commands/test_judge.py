"""`verify` as a program: a mended plan against the one that it mends."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from planner.commands.group import testday as command_line

DATA = Path(__file__).parents[1] / "data"
STUDY, PLAN = DATA / "treadmill_day", DATA / "treadmill_day-plan.json"


def _judged(plan: Path, *words: object, status: int = 0) -> list[dict[str, str]]:
    call = ["verify", str(STUDY), "--plan", str(plan), "--before", str(PLAN), *map(str, words), "--json"]
    result = CliRunner().invoke(command_line, call)
    assert result.exit_code == status, result.output
    found: list[dict[str, str]] = json.loads(result.stdout)["broken"]
    return found


def test_a_mended_plan_is_judged_against_the_one_before(tmp_path: Path):
    """Once a block was planned before now it must stand; a plan that moved it is refused, by name."""
    before = json.loads(PLAN.read_text("utf-8"))
    same = {**before, "version": before["version"] + 1, "replaces": before["version"], "changes": []}
    kept = tmp_path / "kept.json"
    kept.write_text(json.dumps(same), encoding="utf-8")
    assert _judged(kept) == []
    visit = same["visits"][-1]
    shorter = {**same, "visits": same["visits"][:-1], "placed": same["placed"] - 1}
    gone = tmp_path / "gone.json"
    gone.write_text(json.dumps(shorter), encoding="utf-8")
    found = _judged(gone, "--now", visit["end"][:19], status=1)
    rules = {one["rule"] for one in found if one["participant"] == visit["participant"]}
    assert {"begun", "changes"} <= rules
    assert f"began at {visit['start'][11:16]} and must stay" in " ".join(one["message"] for one in found)


def test_when_it_was_mended_says_nothing_without_the_plan_before():
    call = ["verify", str(STUDY), "--plan", str(PLAN), "--now", "2027-03-01T10:00"]
    result = CliRunner().invoke(command_line, call)
    assert result.exit_code == 2
    assert "--before" in result.output


def test_a_visit_nobody_came_to_may_be_gone_though_the_plan_began_it(tmp_path: Path):
    before = json.loads(PLAN.read_text("utf-8"))
    visit = before["visits"][-1]
    who, now = visit["participant"], visit["activities"][0]["end"][:19]
    out = tmp_path / "mended.json"
    call = ["repack", str(STUDY), "--plan", str(PLAN), "--now", now, "--cancelled", who, "--out", str(out)]
    result = CliRunner().invoke(command_line, call)
    assert result.exit_code == 0, result.output
    assert {one["rule"] for one in _judged(out, "--now", now, status=1)} == {"begun"}
    assert _judged(out, "--now", now, "--cancelled", who) == []


def test_a_block_whose_rig_failed_may_be_done_again(tmp_path: Path):
    before = json.loads(PLAN.read_text("utf-8"))
    visit = max(before["visits"], key=lambda one: one["start"])
    last = [a for a in visit["activities"] if a["manoeuvre"] == "mep"][-1]
    now, rig = last["start"][:17] + "59", last["rig"]
    failed = f"{rig if isinstance(rig, str) else rig[0]}={now}/{last['end'][:11]}17:00"
    out = tmp_path / "mended.json"
    call = [
        "repack",
        str(STUDY),
        "--plan",
        str(PLAN),
        "--now",
        now,
        "--out-of-use",
        failed,
        "--out",
        str(out),
    ]
    result = CliRunner().invoke(command_line, call)
    assert result.exit_code == 0, result.output
    assert {one["rule"] for one in _judged(out, "--now", now, status=1)} == {"begun"}
    assert _judged(out, "--now", now, "--out-of-use", failed) == []
