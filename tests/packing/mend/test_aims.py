"""What a mended day should be, in order."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from planner.packing.core import Answer
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
