"""One visit alone on a day: what decides it is compared, so that the same is not asked twice."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from planner.clock import Interval
from planner.packing.hours import Hours
from planner.packing.why.alone import fits_alone, what_decides
from planner.packing.why.case import Case
from planner.schedule.plans import visit_plans
from planner.study.model import Rig, Wish
from planner.study.read import read_study

DAY = date(2027, 3, 1)


@pytest.fixture
def case(small: Path) -> Case:
    study = read_study(small)
    return Case(study, visit_plans(study))


def out(case: Case, rig: str, low: int, high: int, day: date = DAY) -> Case:
    """The case with the rig out of use between these hours, counted from the day's midnight."""
    midnight = datetime(day.year, day.month, day.day, tzinfo=case.study.zone)
    span = Interval(midnight + timedelta(hours=low), midnight + timedelta(hours=high))
    rigs = tuple(replace(one, out=(*one.out, span)) if one.id == rig else one for one in case.study.rigs)
    return case.with_(rigs=rigs)


def decides(case: Case, day: date = DAY) -> Hashable:
    visit = case.visits[0]
    hours = Hours(case.study)
    return what_decides(case, hours, visit, day, hours.lines(visit)[day])


def test_either_of_two_alike_rigs_away_is_the_same_question(case: Case):
    assert decides(out(case, "S1", 9, 11)) == decides(out(case, "S2", 9, 11))
    assert decides(out(case, "S1", 9, 11)) != decides(out(case, "S1", 9, 12))
    assert decides(out(case, "S1", 9, 11)) != decides(case)


def test_away_for_that_day_or_for_longer_is_the_same_question(case: Case):
    assert decides(out(case, "S1", 0, 24)) == decides(out(case, "S1", -48, 48))


def test_what_the_visit_does_not_want_decides_nothing(case: Case):
    more = case.with_(rigs=(*case.study.rigs, Rig("X1", ("a rig of another protocol",))))
    assert decides(more) == decides(case)


def test_a_rig_that_is_wished_for_is_not_as_good_as_another(case: Case):
    who = case.visits[0].participant
    fixed = case.with_(wishes=(Wish(who, case.visits[0].file_id, rig="S1"),))
    assert decides(out(fixed, "S1", 0, 24)) != decides(out(fixed, "S2", 0, 24))


def test_it_fits_on_an_open_day_and_not_without_any_rig_of_a_class(case: Case):
    visit = case.visits[0]
    assert fits_alone(case, visit, DAY)
    assert fits_alone(out(case, "S1", 0, 24), visit, DAY)
    assert not fits_alone(out(out(case, "S1", 0, 24), "S2", 0, 24), visit, DAY)
