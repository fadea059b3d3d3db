"""Cheap proofs that visits cannot all be placed."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from planner.packing.pack import pack
from planner.packing.why.oracle import due_by_day, due_on
from planner.schedule.model import Outcome
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

PROTOCOL = """format: 1
name: short
title: A short bout
version: "1"
cautions: [Stop when the participant asks to.]
visit:
  - {id: run, title: Running, exercise: true, takes: 40 min, rig: treadmill, staff: [lead]}
"""
STUDY = """format: 1
name: short-week
time_zone: Europe/Oslo
visits: [{id: only, protocol: short.yaml}]
days: {from: 2027-03-01, to: 2027-03-05, open: {mon-fri: "08:00-16:00"}}
rigs: {treadmill: [B1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
availability: availability.csv
"""
TUESDAY = date(2027, 3, 2)


def write(folder: Path, availability: str) -> Path:
    tables = {
        "short.yaml": PROTOCOL,
        "study.yaml": STUDY,
        "staff.csv": "person,roles\nT1,lead\nT2,lead\n",
        "shifts.csv": "person,days,from,to,breaks\nT1,mon-fri,08:00,16:00,\nT2,mon-fri,08:00,16:00,\n",
        "participants.csv": "participant\nQ01\nQ02\nQ03\n",
        "availability.csv": f"participant,days,from,to\n{availability}",
    }
    for name, text in tables.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_who_can_come_on_one_day_only_is_due_then(tmp_path: Path) -> None:
    study = read_study(
        write(tmp_path, "Q01,2027-03-02,08:00,09:00\nQ02,tue,08:00,09:00\nQ03,mon-fri,08:00,16:00\n")
    )
    assert due_by_day(study) == {TUESDAY: ("Q01", "Q02")}
    assert [len(due_on(study, who, TUESDAY)) for who in study.participants] == [1, 1, 0]


def test_two_who_can_only_come_in_the_same_hour_are_proven_to_collide(tmp_path: Path) -> None:
    """In a study of several days it was left undecided: only a fixed date counted as the day."""
    study = read_study(write(tmp_path, "Q01,2027-03-02,08:00,09:00\nQ02,2027-03-02,08:00,09:00\n"))
    now = datetime(2027, 3, 1, 7, tzinfo=study.zone)
    made = pack(study, visit_plans(study), seconds=5, now=now)
    assert (made.status, made.placed) == (Outcome.IMPOSSIBLE, 2)
    words = " ".join(reason.message for reason in made.reasons)
    assert all(word in words for word in ("treadmill", "Q01 can come", "Q02 can come", "2027-03-02"))
