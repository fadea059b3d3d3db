"""Places a day, with one rig or person more or fewer."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from planner.packing.capacity import capacity
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

SMALL = Path(__file__).parents[1] / "data" / "small"


def test_more_is_never_less_and_bounds_hold() -> None:
    study = read_study(SMALL)
    found = capacity(study, visit_plans(study), seconds=6)
    base, *changes = found.lines
    assert changes
    for line in found.lines:
        assert 0 <= line.found <= line.at_most
        assert line.difference <= 0 or line.found >= base.found
        assert line.difference >= 0 or line.at_most <= base.at_most
    fewer = {line.what: line.at_most for line in changes if line.difference == -1}
    assert fewer["rowing ergometer"] == 0  # there is one, and every visit needs it
    assert "a day" in found.words()


def test_nothing_asked_and_no_open_day() -> None:
    study = read_study(SMALL)
    plans = visit_plans(study)
    assert capacity(replace(study, asked={}), plans, seconds=1).lines == ()
    assert capacity(replace(study, open={}), plans, seconds=1).as_json()["day"] is None
