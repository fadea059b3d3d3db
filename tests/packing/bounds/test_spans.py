"""A span of a day that is too short for those who can come in no other, by minutes alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.packing.bounds.spans import is_overfull
from planner.packing.why import oracle as asking
from planner.packing.why.case import Case
from planner.packing.why.explain import proofs
from planner.packing.why.oracle import Kind, Oracle
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

PROTOCOL = """format: 1
name: visit
title: Sitting and riding
version: "1"
cautions: [Stop when the participant asks to.]
visit:
  - {id: ride, title: Riding, exercise: true, takes: 20 min, rig: bike, staff: [lead],
     watch: {staff: [lead], for: 10 min}, clear: {takes: 10 min, staff: [cleaner]}}
"""
STUDY = """format: 1
name: one-week
time_zone: Europe/Oslo
visits: [{id: only, protocol: visit.yaml}]
days: {from: 2027-03-01, to: 2027-03-05, open: {mon-fri: "08:00-16:00"}}
rigs: {bike: [B1, B2, B3]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
availability: availability.csv
"""


@pytest.fixture
def wednesday(tmp_path: Path) -> Callable[..., Path]:
    """A function that writes the study: so many come on Wednesday in these hours only."""

    def make(count: int, *spans: str, bikes: str = "B1, B2, B3") -> Path:
        codes = [f"R{n:02}" for n in range(1, count + 1)]
        files = {
            "visit.yaml": PROTOCOL,
            "study.yaml": STUDY.replace("B1, B2, B3", bikes),
            "staff.csv": "person,roles\nK1,lead\nK2,cleaner\n",
            "shifts.csv": "person,days,from,to\nK1,mon-fri,08:00,16:00\nK2,mon-fri,08:00,16:00\n",
            "participants.csv": "\n".join(["participant", *codes, ""]),
            "availability.csv": "participant,days,from,to\n"
            + "".join(f"{code},wed,{span}\n" for code in codes for span in spans),
        }
        for name, text in files.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        return tmp_path

    return make


def overfull(folder: Path) -> bool:
    study = read_study(folder)
    day = sorted(study.open)[2]
    visits = [visit for its in study.asked.values() for visit in its]
    return is_overfull(study, visit_plans(study), day, visits)


def test_lead_minutes_of_a_span(wednesday: Callable[..., Path]):
    """Half an hour of the lead for each; of the last one the watch may go on after the span."""
    assert not overfull(wednesday(4, "08:00,09:50"))
    assert overfull(wednesday(4, "08:00,09:49"))
    assert not overfull(wednesday(4, "08:00,09:49", "14:00,15:00"))


def test_rig_minutes_of_a_span_with_clearing_after_it(wednesday: Callable[..., Path]):
    assert not overfull(wednesday(2, "15:00,15:50", bikes="B1"))
    assert overfull(wednesday(2, "15:00,15:49", bikes="B1"))


def test_it_is_proven_without_asking_a_solver(wednesday: Callable[..., Path], monkeypatch):
    monkeypatch.setattr(asking, "is_refuted", lambda *given: False)
    monkeypatch.setattr(asking, "pack_day", None)
    study = read_study(wednesday(5, "08:00,10:00"))
    (found,) = proofs(Case(study, visit_plans(study)), study.participants, Oracle(10**9))
    assert found.kind is Kind.TOGETHER
    assert len(found.participants) == 5
