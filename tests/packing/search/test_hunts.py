"""Less waiting and earlier ends: nothing that was reached is lost on the way."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest

from planner.packing.core import Answer, Core
from planner.packing.greedy import greedy
from planner.packing.model import keeps_rules
from planner.packing.objective import value
from planner.packing.problem import DayProblem
from planner.packing.search.hunts import earlier_end
from planner.packing.search.lns import Effort
from planner.packing.translate import translate
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DAY = Path(__file__).parents[2] / "data" / "treadmill_day"


@pytest.fixture(scope="module")
def day() -> tuple[Core, Answer]:
    """Seven visits that may come at any time, as a first plan has them."""
    study = read_study(DAY)
    (date,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)[:7]
    core, _ = translate(DayProblem(study, visit_plans(study), date, visits))
    whole = ((0, core.horizon),)
    core = replace(core, jobs=tuple(replace(job, within=whole, starts=whole) for job in core.jobs))
    return core, greedy(core, rounds=1, seconds=None)


@pytest.mark.parametrize("kept", [[], ["waiting_s"]])
def test_an_earlier_end_keeps_everybody_and_what_was_reached(
    day: tuple[Core, Answer], kept: list[str]
) -> None:
    core, plan = day
    effort = Effort(time.monotonic() + 4, 4, 2, seed=1)
    told: list[int] = []
    found = earlier_end(core, plan, 0, kept, effort, lambda one: told.append(value(core, one, "last_end_s")))
    assert keeps_rules(core, found)
    assert found.placed(core) == plan.placed(core)
    assert all(value(core, found, name) <= value(core, plan, name) for name in [*kept, "last_end_s"])
    if not kept:
        assert told[-1] == value(core, found, "last_end_s") < value(core, plan, "last_end_s")
