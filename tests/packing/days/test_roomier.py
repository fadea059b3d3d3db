"""Visits moved to days with room: distances worked out by hand."""

from __future__ import annotations

import time
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from planner.packing.days.roomier import moved_to, placed_again
from planner.packing.pack import pack, running_from
from planner.packing.running import Running
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

MON, TUE, WED, THU, FRI = (date(2027, 3, day) for day in range(1, 6))
BLOWS = """
format: 1
name: blows
title: Blows
version: "1"
manoeuvres: {blow: {title: Blow, rig: meter, staff: operator, effort: 10 s, efforts: 1}}
visit: [{id: first, title: Blow, measure: [blow]}]
"""
STUDY = """
format: 1
name: by-hand
time_zone: Europe/Oslo
visits:
  - id: run
    protocol: blows.yaml
    conditions: [A, B]
    order: balanced
    between_conditions: {at_least: 2 d, at_most: 3 d}
days: {from: 2027-03-01, to: 2027-03-05, open: {mon-fri: "08:00-08:12"}}
rigs: {meter: [M1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
fixed: fixed.csv
"""


@pytest.fixture
def running(tmp_path: Path) -> Running:
    """Two participants, each on Monday and on Wednesday, two days later."""
    for name, text in {
        "blows.yaml": BLOWS,
        "study.yaml": STUDY,
        "staff.csv": "person,roles\nK1,operator\n",
        "shifts.csv": "person,days,from,to,breaks\nK1,mon-fri,08:00,09:00,\n",
        "participants.csv": "participant\nA1\nA2\n",
        "fixed.csv": "participant,visit,date\n"
        + "".join(f"{who},run-{n},{day}\n" for who in ("A1", "A2") for n, day in ((1, MON), (2, WED))),
    }.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    study = read_study(tmp_path)
    plans = visit_plans(study)
    packed = pack(study, plans, seconds=4, now=datetime(2027, 2, 20, tzinfo=UTC))
    (tmp_path / "study.yaml").write_text(STUDY.replace("fixed: fixed.csv\n", ""), encoding="utf-8")
    found = running_from(read_study(tmp_path), plans, packed)
    assert {name: visit.date for name, visit in found.visits.items()} == {
        ("A1", "run-1"): MON,
        ("A1", "run-2"): WED,
        ("A2", "run-1"): MON,
        ("A2", "run-2"): WED,
    }
    return found


def soon() -> float:
    return time.monotonic() + 60


def test_a_visit_whose_next_one_is_in_the_way_moves_only_with_it(running: Running) -> None:
    """From Tuesday to Wednesday is one day, and two are asked for: with the next on Thursday it may move."""
    before = dict(running.visits)
    assert moved_to(running, [("A1", "run-1")], MON, lambda day: True, soon()) is None
    assert running.visits == before
    both = [("A1", "run-1"), ("A1", "run-2")]
    found = moved_to(running, both, MON, lambda day: True, soon())
    assert found is not None
    assert found["A1", "run-1"] == TUE
    assert found["A1", "run-2"] in (THU, FRI)
    assert running.visits["A2", "run-1"] == before["A2", "run-1"]


def test_a_day_that_is_not_good_with_the_visit_is_left_as_it_was(running: Running) -> None:
    """The last visit may go to Thursday only; where that will not do nothing changes."""
    before, tasks = dict(running.visits), dict(running.tasks)
    assert moved_to(running, [("A1", "run-2")], WED, lambda day: day != THU, soon()) is None
    assert running.visits == before
    assert {day: its for day, its in running.tasks.items() if its} == {d: t for d, t in tasks.items() if t}
    assert moved_to(running, [("A1", "run-2")], WED, lambda day: True, soon()) == {("A1", "run-2"): THU}


def test_nothing_is_moved_when_time_is_up(running: Running) -> None:
    both = [("A1", "run-1"), ("A1", "run-2")]
    assert moved_to(running, both, MON, lambda day: True, time.monotonic() - 1) is None


def test_visits_without_a_place_come_back_in_their_order(running: Running) -> None:
    both = [("A1", "run-1"), ("A1", "run-2")]
    for name in both:
        del running.visits[name]
    assert placed_again(running, both, lambda day: day not in (MON, WED), soon())
    first, second = (running.visits[name].date for name in both)
    assert first == TUE
    assert 2 <= (second - first).days <= 3
