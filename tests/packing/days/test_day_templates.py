"""Templates of the days of a study: what each day offers to choose from."""

from __future__ import annotations

from pathlib import Path

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.days.day_templates import DayTemplates
from planner.packing.days.lanes import lanes
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study


def _templates(study: Study, most: int) -> DayTemplates:
    plans = visit_plans(study)
    bounds, budget = Bounds(study, plans), Budget.of(10, 1, None, None)
    return DayTemplates(study, plans, bounds, lanes(study, plans, most), budget)


def test_a_day_offers_more_hours_than_the_laboratory_takes_visits(small: Path):
    """With one visit a day allowed, its hour can still be chosen: the limit is for those who choose."""
    file = small / "study.yaml"
    text = file.read_text("utf-8").replace("at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    file.write_text(text, encoding="utf-8")
    study = read_study(small)
    templates = _templates(study, 1)
    templates.make_first(2.0)
    assert max(len(places) for places in templates.by_day().values()) > 1


def test_fuller_days_are_hoped_for_only_where_they_could_end_the_study_earlier(small: Path):
    study = read_study(small)
    least = Bounds(study, visit_plans(study)).least_last_day()
    templates = _templates(study, 3)
    templates.make_first(2.0, 0.5)
    assert not templates.could_end_before(least)
    assert templates.could_end_before((study.last_day - study.first_day).days + 1)
