"""Demands by name: each in words of its own, so that a reader can tell one from the next."""

from __future__ import annotations

from pathlib import Path

from planner.packing.why.case import Case
from planner.packing.why.named import _windows
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DEMO = Path(__file__).parents[3] / "demo_study"


def test_each_window_is_named_by_its_time_point():
    study = read_study(DEMO)
    words = [demand.words for demand in _windows(Case(study, visit_plans(study)))]
    assert len(words) > 3
    assert len(set(words)) == len(words)
    assert any(" at 10 min in " in one for one in words)
