"""Small studies settled again: who serves, when and on which day is drawn anew where visits were shut out."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.packing.budget import Budget
from planner.packing.days.polish import add, crowd_in
from planner.packing.days.settle_again import settle_again
from planner.packing.hours import number_of
from planner.packing.running import Leaning, Running
from planner.schedule.plans import visit_plans
from planner.study.model import Study, Wish
from planner.study.read import read_study

MONDAY, TUESDAY, FRIDAY = (date(2027, 3, day) for day in (1, 2, 5))


@pytest.fixture
def budget() -> Budget:
    return Budget(time.monotonic() + 60)


def opened(study: Study) -> Running:
    return Running(study, visit_plans(study), {}, {})


def test_a_study_with_nothing_placed_is_filled(small: Path, budget: Budget):
    running = opened(read_study(small))
    settle_again(running, budget, most=6, least_last_day=4)
    assert running.missing() == []
    assert running.leanings == {}


def test_a_rig_that_was_kept_first_and_fails_later_is_given_up(small: Path, budget: Budget):
    """S1 comes first and is kept; on Friday, the only day left for the last visit, it is out."""
    (small / "outages.csv").write_text("rig,from,to\nS1,2027-03-05T08:00,2027-03-05T17:00\n", "utf-8")
    lines = "participant,days,from,to,visit\nROW-01,mon-tue,08:00,17:00,\nROW-01,fri,08:00,17:00,\n"
    (small / "availability.csv").write_text(lines, "utf-8")
    study = read_study(small)
    asked = {"ROW-01": study.asked["ROW-01"]}
    running = opened(replace(study, asked=asked, participants=("ROW-01",)))
    visits = asked["ROW-01"]
    assert add(running, visits[0], MONDAY, 0.0, budget)
    assert running.kept(visits[2]) == {"spirometer": "S1"}
    settle_again(running, budget, most=3, least_last_day=0)
    assert running.missing() == []
    assert running.kept(visits[2]) == {"spirometer": "S2"}


def test_a_study_that_could_end_earlier_does(small: Path, budget: Budget):
    study = read_study(small)
    asked = {"ROW-01": study.asked["ROW-01"][:2]}
    running = opened(replace(study, asked=asked, participants=("ROW-01",)))
    assert add(running, asked["ROW-01"][0], MONDAY, 0.0, budget)
    assert add(running, asked["ROW-01"][1], FRIDAY, 0.0, budget)
    settle_again(running, budget, most=2, least_last_day=1)
    assert running.missing() == []
    assert max(number_of(v.date, study) for v in running.visits.values()) == 1


def test_nothing_is_lost_where_nothing_is_gained(small: Path):
    study = read_study(small)
    running = opened(replace(study, at_most_visits_a_day=1))
    for visit, day in zip(study.asked["ROW-01"], (MONDAY, TUESDAY, FRIDAY), strict=True):
        assert add(running, visit, day, 0.0, Budget(time.monotonic() + 60))
    settle_again(running, Budget(time.monotonic() + 2), most=6, least_last_day=0)
    assert len(running.visits) >= 3


def test_others_of_a_day_move_for_a_visit_that_finds_no_place_beside_them(small: Path, budget: Budget):
    """One who comes until 09:15 only finds the ergometer taken by one who could come at any hour."""
    lines = "participant,days,from,to,visit\nROW-02,mon,08:00,09:15,\n"
    (small / "availability.csv").write_text(lines, "utf-8")
    study = read_study(small)
    asked = {who: (replace(visits[1], gap=None),) for who, visits in study.asked.items()}
    running = opened(replace(study, asked=asked))
    running.leanings["ROW-01"] = Leaning(from_s=8 * 3600 + 20 * 60)
    assert add(running, asked["ROW-01"][0], MONDAY, 0.0, budget)
    running.leanings.clear()
    assert not add(running, asked["ROW-02"][0], MONDAY, 0.0, budget)
    assert crowd_in(running, asked["ROW-02"][0], MONDAY, 2.0, budget)
    assert running.missing() == []


@pytest.mark.parametrize("wish", [{"rig": "S2"}, {"person": "K3"}])
def test_what_is_kept_never_stands_above_a_wish(small: Path, budget: Budget, wish: dict[str, str]):
    """A visit that would have to break one of the two has no place, and none that the judge refuses."""
    study = replace(read_study(small), keep_same_across=("spirometer", "lead"))
    running = opened(replace(study, wishes=(Wish("ROW-01", "rowing-1", **wish),)))
    visits = study.asked["ROW-01"]
    running.leanings["ROW-01"] = Leaning({"spirometer": "S1", "lead": "K1"})
    assert add(running, visits[0], MONDAY, 0.0, budget)
    assert not add(running, visits[1], TUESDAY, 1.0, budget)
