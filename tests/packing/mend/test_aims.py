"""What a mended day should be, in order."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from planner.packing.core import Answer
from planner.packing.mend.aims import AIMS, aim_values
from planner.packing.mend.facts import facts
from planner.packing.mend.ring import Found, RingSearch
from planner.packing.mend.study import with_troubles
from planner.packing.mend.troubles import Troubles
from planner.packing.problem import key
from planner.packing.running import Running
from planner.schedule.plan_file import read_plan
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"


def test_a_block_that_changes_in_any_case_keeps_its_rig_and_people_where_it_can() -> None:
    """A block that changed once could change them too, at no price: the first plan found decided it."""
    study = read_study(DATA / "treadmill_day")
    plans = visit_plans(study)
    whole = read_plan(DATA / "treadmill_day-plan.json", study)
    late = sorted(whole.visits, key=lambda visit: visit.start)[3]
    plan, now = replace(whole, visits=(late,)), late.start - timedelta(hours=1)
    told = Troubles(late={late.participant: 5})
    known = facts(study, plans, plan, now.date(), now, told)
    running = Running(with_troubles(study, now, told), plans, {key(late): late}, {})
    rings = RingSearch(running, known, (), workers=1)
    found = rings.best(known.standings, 5).found
    assert found is not None
    again = rings.best(known.standings, 5, near=_with_others(found)).found
    assert again is not None
    assert again.answer.given[0] == again.day.old.given[0]


def _with_others(found: Found) -> Found:
    """The day with another rig and other people wherever there are any."""
    given = found.answer.given[0]
    assert given is not None
    others = (
        next((r for r in reversed(use.choices) if r != now), now)
        for use, now in zip(found.day.core.uses[0], given, strict=True)
    )
    return replace(found, answer=Answer(found.answer.starts, (tuple(others), *found.answer.given[1:])))


def test_nobody_is_called_sooner_than_they_can_come_unless_it_saves_a_place_or_a_window() -> None:
    """Somebody told 11:00 was to be there at 10:25, two minutes after the plan was mended."""
    study = read_study(DATA / "treadmill_day")
    plans = visit_plans(study)
    whole = read_plan(DATA / "treadmill_day-plan.json", study)
    two = sorted(whole.visits, key=lambda visit: visit.start)[2:4]
    now = two[1].start - timedelta(minutes=25)
    told = Troubles(late={two[1].participant: 5})
    known = facts(study, plans, replace(whole, visits=tuple(two)), now.date(), now, told)
    running = Running(with_troubles(study, now, told), plans, {key(v): v for v in two}, {})
    found = RingSearch(running, known, (), workers=1).best(known.standings, 5).found
    assert found is not None
    late = next(j for j, s in enumerate(known.standings) if s.placed is two[1])
    assert found.day.grid.moment(found.day.called[late]) == two[1].start
    starts = found.answer.starts[late]
    assert starts is not None
    sooner = tuple(start - 120 for start in starts)
    moved = tuple(sooner if j == late else its for j, its in enumerate(found.answer.starts))
    early = Answer(moved, found.answer.given)
    values = dict(zip(AIMS, aim_values(found.day, early), strict=True))
    short = found.day.called[late] - sooner[found.day.core.jobs[late].first]
    assert values["short_notice_s"] == max(0, short)
    assert dict(zip(AIMS, found.values, strict=True))["short_notice_s"] == 0


@pytest.mark.parametrize("hours", [0.5, 1, 3])
def test_with_an_hours_notice_anybody_may_be_called_sooner(hours: float) -> None:
    study = read_study(DATA / "treadmill_day")
    whole = read_plan(DATA / "treadmill_day-plan.json", study)
    last = max(whole.visits, key=lambda visit: visit.start)
    now = last.start - timedelta(hours=hours)
    known = facts(study, visit_plans(study), replace(whole, visits=(last,)), now.date(), now, Troubles())
    running = Running(study, visit_plans(study), {key(last): last}, {})
    found = RingSearch(running, known, (), workers=1).best(known.standings, 5).found
    assert found is not None
    soonest = found.day.grid.moment(found.day.called[0])
    assert soonest == min(last.start, now + timedelta(hours=1))
