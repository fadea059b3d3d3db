"""Days chosen anew where an early choice shuts out a later visit of the same participant."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.packing.budget import Budget
from planner.packing.days.polish import add, fill
from planner.packing.days.resettle import resettle
from planner.packing.running import Running
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study


@pytest.fixture
def budget() -> Budget:
    return Budget(time.monotonic() + 60)


def opened(study: Study) -> Running:
    return Running(study, visit_plans(study), {}, {})


def settle(running: Running, who: str, days: list[date], budget: Budget) -> None:
    for visit, day in zip(running.study.asked[who], days, strict=False):
        assert add(running, visit, day, 0.0, budget)


def test_a_chain_that_began_too_late_begins_anew(small: Path, budget: Budget):
    running = opened(read_study(small))
    settle(running, "ROW-02", [date(2027, 3, 2), date(2027, 3, 5)], budget)
    settle(running, "ROW-01", [date(2027, 3, 1), date(2027, 3, 2), date(2027, 3, 4)], budget)
    others = {k: v for k, v in running.visits.items() if k[0] == "ROW-01"}
    fill(running, budget)
    assert [v.file_id for v in running.missing()] == ["rowing-2"]
    resettle(running, budget)
    assert running.missing() == []
    assert others.items() <= running.visits.items()


def test_one_other_makes_room_where_the_days_are_full(small: Path, budget: Budget):
    file = small / "availability.csv"
    file.write_text("participant,days,from,to,visit\nROW-02,mon-tue,08:00,16:00,\n", "utf-8")
    study = read_study(small)
    two_each = {who: visits[:2] for who, visits in study.asked.items()}
    running = opened(replace(study, asked=two_each, at_most_visits_a_day=1))
    settle(running, "ROW-01", [date(2027, 3, 1), date(2027, 3, 2)], budget)
    fill(running, budget)
    assert len(running.missing()) == 2
    resettle(running, budget)
    assert [(v.participant, v.date.day) for v in sorted(running.visits.values(), key=lambda v: v.date)] == [
        ("ROW-02", 1),
        ("ROW-02", 2),
        ("ROW-01", 4),
        ("ROW-01", 5),
    ]


def test_where_nothing_helps_everything_stays(small: Path, budget: Budget):
    study = read_study(small)
    running = opened(replace(study, at_most_visits_a_day=1))
    settle(running, "ROW-01", [date(2027, 3, 1), date(2027, 3, 2), date(2027, 3, 4)], budget)
    settle(running, "ROW-02", [date(2027, 3, 5)], budget)
    before = dict(running.visits), dict(running.tasks)
    resettle(running, budget)
    assert (running.visits, running.tasks) == before
