"""Why no other day was tried for a visit, in words that are true of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.packing.mend.elsewhere import why_none
from planner.packing.problem import key
from planner.packing.running import Running
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.model import Study, Visit
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"
MON, THU, FRI = date(2027, 3, 1), date(2027, 3, 4), date(2027, 3, 5)


@pytest.fixture
def study() -> Study:
    return read_study(DATA / "small")


def without(study: Study, visit: Visit) -> Running:
    """The plan of the small study in the making, without that visit."""
    placed = {key(v): v for v in read_plan(DATA / "small-plan.json", study).visits}
    placed.pop(key(visit), None)
    return Running(study, visit_plans(study), placed, {})


def test_a_study_of_one_day(study: Study):
    visit = study.asked["ROW-01"][0]
    one = replace(study, open={MON: study.open[MON]})
    assert why_none(without(one, visit), visit, MON) == "the study has no other day"


def test_no_day_comes_after(study: Study):
    visit = study.asked["ROW-01"][2]
    assert why_none(without(study, visit), visit, FRI) == "the study has no open day after 2027-03-05"


def test_the_distances_to_other_visits(study: Study):
    """The first rowing is on Tuesday; practice must come a day before it."""
    visit = study.asked["ROW-01"][0]
    words = why_none(without(study, visit), visit, MON)
    assert words == "the distances to ROW-01's other visits leave it no later day"


def test_days_that_are_full(study: Study):
    visit = study.asked["ROW-01"][2]
    full = replace(study, at_most_visits_a_day=1)
    words = why_none(without(full, visit), visit, date(2027, 3, 3))
    assert words.startswith("each later day that it may have has its 1 visit")
