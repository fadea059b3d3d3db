"""Packed days played many times."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.faults import FaultyInput
from planner.packing.chance.odds import Waits
from planner.packing.chance.odds_words import odds_words
from planner.packing.play import _most_each, play
from planner.schedule.model import Schedule
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study
from planner.timing.plan import VisitPlan
from planner.timing.simulate import simulate

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="module")
def study() -> Study:
    return read_study(DATA / "small")


@pytest.fixture(scope="module")
def plans(study: Study) -> dict[str, VisitPlan]:
    return visit_plans(study)


@pytest.fixture(scope="module")
def schedule(study: Study) -> Schedule:
    return read_plan(DATA / "small-plan.json", study)


def test_same_seed_same_odds(study: Study, plans: dict[str, VisitPlan], schedule: Schedule) -> None:
    once, again = (play(study, plans, schedule, draws=300) for _ in range(2))
    assert once == again
    assert once != play(study, plans, schedule, draws=300, seed=2)


def test_alone_and_punctual_a_visit_is_as_sure_as_its_forecast(
    study: Study, plans: dict[str, VisitPlan], schedule: Schedule
) -> None:
    """Against the simulation of the protocol: one visit has nobody to wait for."""
    first = schedule.visits[0]
    lone = replace(schedule, visits=(first,), rig_tasks=())
    odds = play(study, plans, lone, draws=2000, late_sd_s=0).visits[0]
    asked = next(v for v in study.asked[first.participant] if v.file_id == first.file_id)
    alone = simulate(plans[asked.protocol].protocol).chance_of_all()
    assert odds.ceiling == pytest.approx(alone.share, abs=0.03)
    assert odds.all_windows == pytest.approx(odds.ceiling, abs=0.03)


def test_every_visit_and_window_has_its_chance(
    study: Study, plans: dict[str, VisitPlan], schedule: Schedule
) -> None:
    odds = play(study, plans, schedule, draws=200)
    assert {(v.participant, v.visit) for v in odds.visits} == {
        (v.participant, v.file_id) for v in schedule.visits
    }
    assert all(
        v.all_windows <= min((w.chance or 1.0) for w in v.windows) + 1e-3 for v in odds.visits if v.windows
    )


def test_later_arrivals_end_later(study: Study, plans: dict[str, VisitPlan], schedule: Schedule) -> None:
    punctual = play(study, plans, schedule, draws=500, late_sd_s=0)
    late = play(study, plans, schedule, draws=500, late_sd_s=1800)
    assert all(late.late_end_s[day][0] > punctual.late_end_s[day][0] for day in schedule.dates)
    assert "Played 500 times" in odds_words(late)


def test_a_visit_that_lacks_parts_is_refused_in_words(
    study: Study, plans: dict[str, VisitPlan], schedule: Schedule
) -> None:
    """A mend may leave a time point out and keep every rule; what would have followed it is not known."""
    first, *others = schedule.visits
    shorter = replace(first, activities=first.activities[:-1])
    with pytest.raises(FaultyInput, match=f"{first.participant}, {first.file_id} on .*left parts of it out"):
        play(study, plans, replace(schedule, visits=(shorter, *others)), draws=10)


def test_minutes_past_a_shift_are_those_of_one_day():
    """Three days of 7 min are not 21 min on average."""
    days = [date(2027, 3, day) for day in (1, 2, 3)]
    over = [
        *(Waits("person T1", 7.0 + n, day) for n, day in enumerate(days)),
        Waits("person T2", 8.5, days[0]),
    ]
    assert _most_each(over) == (Waits("person T1", 9.0, days[2]), Waits("person T2", 8.5, days[0]))
