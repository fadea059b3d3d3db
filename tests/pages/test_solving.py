"""A solve in a process of its own: one at a time, told line by line, stopped with its best."""

from __future__ import annotations

import json
import os
import signal
import time
from pathlib import Path

import psutil
import pytest

from planner.pages import solving
from planner.pages.solving import Told


def wait(folder: Path, seconds: float = 60) -> None:
    until = time.monotonic() + seconds
    while solving.running(folder) and time.monotonic() < until:
        time.sleep(0.1)
    assert solving.running(folder) is None


def pack(folder: Path, seconds: int = 60) -> bool:
    words = ["pack", str(folder), "--seconds", str(seconds), "--progress-json"]
    return solving.start(folder, "pack", words, seconds)


def test_it_tells_where_it_stands_and_hands_over_a_plan(small: Path):
    assert pack(small, 5)
    assert solving.running(small).what == "pack"
    wait(small)
    made = json.loads(solving.proposal(small).read_text("utf-8"))
    assert made["placed"] == 6
    told = solving.progress(small)
    assert told.placed == 6
    assert told.left_s < 5
    assert any("visits placed" in line or "written" in line for line in solving.told(small))
    assert not any(line.startswith("{") for line in solving.told(small))
    solving.forget(small)
    assert (solving.proposal(small), solving.last(small), solving.told(small)) == (None, None, [])


def test_a_second_solve_is_refused_and_a_stop_keeps_the_best(small: Path):
    assert pack(small)
    assert not pack(small)
    began = time.monotonic()
    while not solving.progress(small) and time.monotonic() < began + 30:
        time.sleep(0.05)
    solving.stop(small)
    assert solving.last(small).is_stopping
    wait(small)
    assert json.loads(solving.proposal(small).read_text("utf-8"))["placed"] > 0


def test_a_solve_that_died_left_no_plan_and_is_not_running(small: Path):
    assert pack(small)
    os.kill(solving.running(small).pid, signal.SIGKILL)
    wait(small)
    assert solving.last(small).what == "pack"
    assert solving.proposal(small) is None
    assert pack(small, 5)
    wait(small)


def test_a_process_of_the_same_number_is_somebody_else(small: Path):
    (small / ".testday").mkdir(exist_ok=True)
    own = os.getpid()
    note = {"pid": own, "began": psutil.Process(own).create_time() - 100, "what": "pack", "seconds": 5}
    (small / ".testday" / solving.RUNNING).write_text(json.dumps(note), encoding="utf-8")
    assert solving.running(small) is None
    solving.stop(small)  # and nobody is killed


@pytest.mark.parametrize("text", ["", "{", "[]", '{"pid": 1}', '"x"'])
def test_a_broken_note_counts_as_no_solve(small: Path, text: str):
    (small / ".testday").mkdir(exist_ok=True)
    (small / ".testday" / solving.RUNNING).write_text(text, encoding="utf-8")
    assert solving.last(small) is None
    assert solving.running(small) is None


def test_the_last_line_that_is_progress_counts(small: Path):
    (small / ".testday").mkdir(exist_ok=True)
    line = {"stage": "waiting_s", "placed": 4, "best": 540, "bound": 0, "left_s": 9.0}
    text = "\n".join([json.dumps(line | {"placed": 3}), json.dumps(line), "Stopping; the best is kept.", "{"])
    (small / ".testday" / solving.TOLD).write_text(text, encoding="utf-8")
    assert solving.progress(small) == Told("waiting_s", 4, 540, 0, 9.0)
    assert solving.told(small) == ["Stopping; the best is kept."]


def test_an_answer_on_standard_output_is_read_back(small: Path):
    assert solving.start(small, "check", ["check", str(small), "--json"], 30, answer="answer.json")
    wait(small)
    assert solving.answered(small, "answer.json")["faults"] == []
    assert solving.proposal(small) is None
    assert solving.answered(small, "nothing.json") is None
