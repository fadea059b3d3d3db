"""`pack` as a program: progress a line each, a polite kill keeps the best, one day packed anew."""

from __future__ import annotations

import io
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from planner.commands.group import testday as command_line
from planner.commands.plan import asked_to_stop
from planner.commands.plan_words import MOST_NAMED, plan_words
from planner.commands.words import say
from planner.schedule.model import NotPlaced
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study

KEYS = {"stage", "placed", "best", "bound", "left_s"}


def _started(*words: object, **how: bool) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "planner", "pack", *map(str, words), "--progress-json"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        **how,
    )


def _is_sound(plan: Path, folder: Path) -> bool:
    study = read_study(folder)
    schedule = read_plan(plan, study)
    return schedule.placed > 0 and not verify(schedule, study, visit_plans(study)).broken


def test_a_polite_kill_keeps_the_best_and_progress_is_a_document_a_line(demo: Path, tmp_path: Path):
    out = tmp_path / "plan.json"
    with _started(demo, "--seconds", 40, "--out", out, "--json") as process:
        assert process.stderr is not None
        told = []
        for line in process.stderr:
            if line.startswith("{"):
                told.append(json.loads(line))
            if told and told[-1]["stage"] == "last_day":
                process.send_signal(signal.SIGTERM)
                break
        rest, words = process.communicate(timeout=120)
    assert process.returncode == 0, words
    assert all(set(one) == KEYS for one in told)
    assert all(0 < one["left_s"] <= 40 for one in told)
    assert json.loads(rest) == json.loads(out.read_text("utf-8"))
    assert json.loads(rest)["placed"] >= told[-1]["placed"] > 0
    assert _is_sound(out, demo)


@pytest.mark.parametrize(
    ("mode", "seen"),
    [((), "waiting_s"), (("--on-time", "90%"), "waiting_s"), (("--capacity",), "capacity")],
    ids=("plain", "on time", "capacity"),
)
def test_an_interrupt_of_the_whole_group_is_heard_after_a_solve(
    mode: tuple[str, ...], seen: str, tmp_path: Path
):
    """As a terminal sends it: the solver has run by then, and must not have taken Ctrl-C for itself."""
    out = tmp_path / "plan.json"
    day = Path(__file__).parents[1] / "data" / "treadmill_day"
    written = () if mode == ("--capacity",) else ("--out", out)
    words: list[object] = [day, "--seconds", 60, *written, *mode]
    with _started(*words, start_new_session=True) as process:
        assert process.stderr is not None
        for line in process.stderr:
            if line.startswith("{") and json.loads(line)["stage"] == seen:
                time.sleep(0.5)
                os.killpg(process.pid, signal.SIGINT)
                break
        asked = time.monotonic()
        said, errors = process.communicate(timeout=120)
    assert process.returncode == 0, errors
    assert "Stopping" in errors
    assert time.monotonic() - asked < 25
    assert _is_sound(out, day) if written else "a day" in said


def test_one_day_is_packed_anew_with_its_own_people(demo: Path, tmp_path: Path):
    """On the day's plan everything else stays as it was, and the version goes up."""
    before = json.loads((demo / "plan.json").read_text("utf-8"))
    day = before["visits"][0]["date"]
    out = tmp_path / "plan.json"
    words = ["pack", demo, "--day", day, "--plan", demo / "plan.json", "--seconds", 6, "--out", out]
    result = CliRunner().invoke(command_line, [*map(str, words), "--json"])
    assert result.exit_code == 0, result.output
    after = json.loads(out.read_text("utf-8"))
    assert (after["version"], after["replaces"]) == (before["version"] + 1, before["version"])
    assert [v for v in after["visits"] if v["date"] != day] == [
        v for v in before["visits"] if v["date"] != day
    ]
    assert {v["participant"] for v in after["visits"] if v["date"] == day} == {
        v["participant"] for v in before["visits"] if v["date"] == day
    }
    assert _is_sound(out, demo)


def test_a_day_needs_its_plan_and_must_be_one_of_its_days(demo: Path):
    for words in (
        ["--day", "2027-10-11"],
        ["--day", "2027-10-22", "--plan", str(demo / "plan.json")],
        ["--day", "11 October", "--plan", str(demo / "plan.json")],
    ):
        result = CliRunner().invoke(command_line, ["pack", str(demo), *words])
        assert result.exit_code == 2, result.output
        assert "Traceback" not in result.output


@pytest.mark.parametrize("text", ["0.9", "90", "90 percent", "0%", "100%"])
def test_a_chance_is_written_with_its_sign(demo: Path, text: str):
    """0.9 would be 0.9 % and may have been meant as 90 %: it is asked for anew."""
    result = CliRunner().invoke(command_line, ["pack", str(demo), "--on-time", text])
    assert result.exit_code == 2
    assert "90%" in result.output


def test_of_very_many_without_a_place_only_the_first_are_said(demo: Path):
    """A screen of 33 000 lines hides the reasons below it; the plan file names each."""
    plan = read_plan(demo / "plan.json", read_study(demo))
    visits = [NotPlaced(visit.participant, visit.file_id, "no day is left") for visit in plan.visits]
    assert len(visits) > MOST_NAMED
    said = plan_words(replace(plan, visits=(), not_placed=tuple(visits))).splitlines()
    assert sum("no day is left" in line for line in said) == MOST_NAMED
    assert any(f"{len(visits) - MOST_NAMED} more" in line for line in said)
    few = plan_words(replace(plan, not_placed=tuple(visits[:3])))
    assert few.count("no day is left") == 3
    assert "more; --json" not in few


def test_packing_loads_no_tables():
    """They take as long to load as the first plan of a small study to be found."""
    script = (
        "import sys\nfrom planner.commands.group import testday\n"
        "testday.main(['pack', 'tests/data/small', '--seconds', '3'], standalone_mode=False)\n"
        "print('pandas' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.stdout.split()[-1:] == ["False"], done.stderr


class _AskedMeanwhile(io.RawIOBase):
    """A stream during whose first writing somebody asks to stop."""

    asked = False

    def writable(self) -> bool:
        return True

    def write(self, words: Any) -> int:
        if not self.asked:
            self.asked = True
            signal.raise_signal(signal.SIGTERM)
        return len(words)


def test_who_is_asked_to_stop_while_saying_something_stops(monkeypatch: pytest.MonkeyPatch):
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}
    words = io.TextIOWrapper(io.BufferedWriter(_AskedMeanwhile()), write_through=True)
    monkeypatch.setattr(sys, "stderr", words)
    try:
        stop = asked_to_stop()
        assert not stop()
        say("placed 3")
        assert stop()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def test_one_visit_asked_for_is_said_as_one(demo: Path):
    plan = read_plan(demo / "plan.json", read_study(demo))
    assert plan_words(replace(plan, visits=plan.visits[:1], asked=1)).startswith(
        "1 of 1 visit placed on 1 day."
    )
