"""Counting how many visits a running day loses at least: never more than a plan that is known loses."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from planner.packing.mend.facts import facts
from planner.packing.mend.ring import RingSearch
from planner.packing.mend.study import with_troubles
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import key
from planner.packing.running import Running
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"


def least_lost(clock: str, **away: tuple[str, str, str]) -> int:
    """Of the plan of twelve at that time, with somebody or something away from and to."""
    study = read_study(DATA / "treadmill_day")
    plan, plans = read_plan(DATA / "treadmill_day-plan.json", study), visit_plans(study)

    def at(text: str) -> datetime:
        return datetime.fromisoformat(f"2027-03-01T{text}").replace(tzinfo=study.zone)

    troubles = Troubles(**{kind: ((who, at(low), at(high)),) for kind, (who, low, high) in away.items()})
    running = Running(with_troubles(study, at(clock), troubles), plans, {key(v): v for v in plan.visits}, {})
    known = facts(study, plans, plan, at(clock).date(), at(clock), troubles)
    return RingSearch(running, known, ()).least_lost(known.standings)


@pytest.mark.parametrize("clock", ["08:00", "09:12", "11:00", "12:47", "15:20", "16:50"])
def test_the_plan_as_it_is_loses_nobody(clock: str):
    assert least_lost(clock) == 0


def test_an_hour_without_somebody_need_lose_nobody():
    assert least_lost("08:00", absent=("T3", "09:00", "10:00")) == 0  # a plan of all twelve was found


def test_the_only_treadmill_out_for_hours_loses_some():
    """Bouts at 15:00, 15:23 and 15:46: half an hour of blocks and 10 min of recovery follow each."""
    assert least_lost("08:00", out_of_use=("B1", "08:00", "15:00")) == 12 - 3


def test_who_is_in_the_house_keeps_their_place():
    """Two bouts are over; of the ten others three find time from 15:00 on, Q10, who is here, among them."""
    assert least_lost("09:10", out_of_use=("B1", "09:10", "15:00")) == 10 - 3


def test_a_bout_that_is_broken_off_wants_the_treadmill_again():
    """Q06 runs at 9:00: with Q06 once more, two of the others find time."""
    assert least_lost("09:00", out_of_use=("B1", "09:00", "15:00")) == 10 - 2
