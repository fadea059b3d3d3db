"""Visits that lost their place on a running day get one beside the others, with nothing lost for it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from planner.packing.mend.facts import facts
from planner.packing.mend.ring import RingSearch
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import key
from planner.packing.running import Running
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"


@pytest.fixture
def four() -> RingSearch:
    study = read_study(DATA / "treadmill_day")
    plan, plans = read_plan(DATA / "treadmill_day-plan.json", study), visit_plans(study)
    visits = tuple(sorted(plan.visits, key=lambda visit: visit.start)[:4])
    schedule = replace(plan, visits=visits)
    now = datetime(2027, 3, 1, 9, 0, tzinfo=study.zone)
    running = Running(study, plans, {key(v): v for v in visits}, {})
    known = facts(study, plans, schedule, now.date(), now, Troubles())
    return RingSearch(running, known, (), workers=1)


def test_who_fell_out_has_a_place_again_and_nothing_is_missed_for_it(four: RingSearch):
    last = max(four.facts.standings, key=lambda standing: standing.placed.start)
    last.must_change = True
    ring = four.by_pieces([s for s in four.facts.standings if s.free()], 2.0, None, 0)
    assert ring.found is not None
    assert ring.found.values[:3] == (0, 0, 0)  # lost, missed, late
    assert all(starts is not None for starts in ring.found.answer.starts)


def test_what_has_begun_and_must_change_needs_a_day_to_start_from(four: RingSearch):
    begun = next(s for s in four.facts.standings if s.begun and s.free())
    begun.must_change = True
    assert four.by_pieces([begun], 2.0, None, 0).found is None


def test_no_more_is_looked_for_than_counting_allows(four: RingSearch):
    last = max(four.facts.standings, key=lambda standing: standing.placed.start)
    last.must_change = True
    ring = four.by_pieces([s for s in four.facts.standings if s.free()], 2.0, None, 1)
    assert ring.found is not None
    assert ring.found.values[0] == 1
