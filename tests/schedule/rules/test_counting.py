"""Bounds by counting, against a day that was counted by hand before."""

from datetime import date
from pathlib import Path

from planner.schedule.plans import visit_plans
from planner.schedule.rules.counting import person_s, rig_s, role_sets
from planner.study.read import read_study

TREADMILL = Path(__file__).parents[2] / "data" / "treadmill_day"


def test_person_minutes_of_the_treadmill_day():
    """Counted by hand: consent, bout, four times FVC, MIP, and MEP for two; at most 17 visits a day."""
    study = read_study(TREADMILL)
    (plan,) = visit_plans(study).values()
    everyone = frozenset({"operator", "cheek support", "lead"})
    assert person_s(plan, everyone) == 600 + 1200 + 4 * 280 + 4 * 175 + 4 * 175 * 2
    there = sum(one.length_s for person in study.people for one in person.works[date(2027, 3, 1)])
    assert there == (480 + 510 + 510) * 60
    assert there // person_s(plan, everyone) == 17


def test_rig_minutes_of_the_treadmill_day():
    """Four FVC blocks of 280 s + 120 s clearing; one bout of 20 min + 3 min."""
    study = read_study(TREADMILL)
    (plan,) = visit_plans(study).values()
    assert rig_s(plan, "spirometer") == 4 * (280 + 120)
    assert rig_s(plan, "treadmill") == 23 * 60


def test_every_set_of_roles_is_counted():
    study = read_study(TREADMILL)
    assert len(list(role_sets(study))) == 2**3 - 1
