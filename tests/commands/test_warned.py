"""What a new plan is warned of is said where it is made, not only where it is judged."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.commands.group import testday as command_line
from planner.commands.warned import MOST_NAMED, brief, without_warning_s
from planner.schedule.model import Broken
from planner.study.read import read_study

DATA = Path(__file__).parents[1] / "data"
STUDY, PLAN = DATA / "treadmill_day", DATA / "treadmill_day-plan.json"
UNWATCHED = "warning: nobody stays with the participant after run (treadmill-day)"


def _run(*words: object) -> Result:
    return CliRunner().invoke(command_line, [*map(str, words)])


def _warnings(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.startswith("warning: ")]


def test_a_new_plan_is_warned_of_as_verify_does(tmp_path: Path):
    out = tmp_path / "plan.json"
    made = _run("pack", STUDY, "--seconds", 2, "--out", out)
    assert made.exit_code == 0, made.output
    told = _warnings(made.stderr)
    assert told == _warnings(_run("verify", STUDY, "--plan", out).output)
    assert UNWATCHED in told
    assert UNWATCHED not in made.stdout
    assert made.output.index(" placed on ") < made.output.index(UNWATCHED)


def test_json_stays_one_document(tmp_path: Path):
    made = _run("pack", STUDY, "--seconds", 2, "--json")
    assert json.loads(made.stdout)["placed"]
    assert UNWATCHED in made.stderr


def test_a_mended_plan_is_warned_of_as_well(tmp_path: Path):
    out = tmp_path / "mended.json"
    who = json.loads(PLAN.read_text("utf-8"))["visits"][-1]["participant"]
    words = ("--plan", PLAN, "--now", "2027-03-01T06:00", "--cancelled", who, "--out", out)
    made = _run("repack", STUDY, *words)
    assert made.exit_code == 0, made.output
    assert UNWATCHED in made.stderr
    assert set(_warnings(_run("verify", STUDY, "--plan", out).output)) <= set(_warnings(made.stderr))


def test_a_plan_that_cannot_be_made_keeps_its_exit_code(tmp_path: Path):
    """More are asked for than the day holds."""
    for file in STUDY.iterdir():
        if file.is_file():
            (tmp_path / file.name).write_bytes(file.read_bytes())
    names = "\n".join(["participant", *(f"Q{n:02}" for n in range(1, 61)), ""])
    (tmp_path / "participants.csv").write_text(names, "utf-8")
    made = _run("pack", tmp_path, "--seconds", 5)
    assert made.exit_code == 3, made.output
    assert UNWATCHED in made.stderr


def test_a_large_study_keeps_time_for_them():
    study = read_study(STUDY)
    few, many = (replace(study, asked={"Q01": study.asked["Q01"] * n}) for n in (1, 4000))
    assert without_warning_s(60, few) == pytest.approx(60, abs=0.01)
    assert without_warning_s(60, many) == pytest.approx(58)
    assert without_warning_s(2, many) == pytest.approx(1.8), "never more than a small share"


def test_each_is_said_once_and_many_of_a_kind_are_counted():
    many = [Broken("longer", f"P{n}", "only", f"block {n} is longer") for n in range(9)]
    other = Broken("uncleared", None, None, "S1 passes on")
    assert brief([many[0], other, *many, other]) == [
        *(f"block {n} is longer" for n in range(MOST_NAMED)),
        "4 more of this kind; testday verify names each",
        "S1 passes on",
    ]
