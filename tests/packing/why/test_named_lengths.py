"""What is too long for any day is named with its line: a step, a watch; and all who never work."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.packing.reasons import Finding

Change = Callable[[Path, str, str], None]
Asked = Callable[[Path], Finding]
Told = Callable[[Path], str]

PROTOCOL = """format: 1
name: visit
title: Sitting and riding
version: "1"
cautions: [Stop when the participant asks to.]
visit:
  - {id: sit, title: Sitting, takes: 30 min, rig: chair, staff: [operator]}
  - {id: lie, title: Lying, rest: 10 min}
  - {id: ride, title: Riding, exercise: true, takes: 20 min, rig: bike, staff: [lead],
     watch: {staff: [lead], for: 5 min}}
"""
STUDY = """format: 1
name: one-day
time_zone: Europe/Oslo
visits: [{id: only, protocol: visit.yaml}]
days: {from: 2027-03-01, to: 2027-03-01, open: {mon: "08:00-16:00"}}
rigs: {chair: [C1], bike: [B1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
"""


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    files = {
        "visit.yaml": PROTOCOL,
        "study.yaml": STUDY,
        "staff.csv": "person,roles\nK1,operator\nK2,lead\n",
        "shifts.csv": "person,days,from,to\nK1,mon,08:00,16:00\nK2,mon,08:00,16:00\n",
        "participants.csv": "participant\nR01\n",
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("takes", ["23 h 30 min", "9 h", "366 d"])
def test_a_step_longer_than_any_day(lab: Path, change: Change, told: Told, takes: str):
    change(lab / "visit.yaml", "takes: 30 min", f"takes: {takes}")
    words = told(lab)
    named = (
        f"visit.yaml:7 sit in Sitting and riding takes {takes}, and the laboratory is open for 8 h at most"
    )
    assert named in words
    assert "if sit in Sitting and riding took less: all 1 placed" in words
    assert "ride in" not in words
    assert "lie in" not in words


def test_a_rest_longer_than_any_day(lab: Path, change: Change, told: Told):
    change(lab / "visit.yaml", "rest: 10 min", "rest: 10 h")
    assert "visit.yaml:8 lie in Sitting and riding takes 10 h" in told(lab)


def test_steps_that_are_too_long_together_are_all_named(lab: Path, change: Change, told: Told):
    change(lab / "visit.yaml", "takes: 30 min", "takes: 5 h")
    change(lab / "visit.yaml", "rest: 10 min", "rest: 5 h")
    words = told(lab)
    assert "sit in Sitting and riding takes 5 h" in words
    assert "lie in Sitting and riding takes 5 h" in words


def test_a_watch_that_nobody_can_keep(lab: Path, change: Change, told: Told):
    change(lab / "visit.yaml", "for: 5 min", "for: 8 h")
    words = told(lab)
    assert "visit.yaml:10 8 h of staying after ride in Sitting and riding" in words
    assert "nobody stayed" not in words, "to leave a participant alone is no way of mending"


def test_of_visits_that_fit_no_length_is_named(lab: Path, change: Change, told: Told):
    change(lab / "shifts.csv", "K2,mon,08:00,16:00", "K2,mon,08:00,09:00")
    words = told(lab)
    assert "the shifts of K2" in words
    assert "takes" not in words


def test_all_who_have_no_shift_are_named_together(lab: Path, told: Told):
    (lab / "shifts.csv").write_text("person,days,from,to\n", encoding="utf-8")
    words = told(lab)
    assert "K1, K2 have no shift on any day of the study" in words
    assert "if K1, K2 worked all opening hours: all 1 placed" in words
