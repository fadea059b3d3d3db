"""Stages: later ones lose nothing of earlier ones, and what they say is what the judge recomputes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from planner.packing.bounds.alike import sort_alike
from planner.packing.day import pack_day
from planner.packing.days.spread import calmest
from planner.packing.objective import value
from planner.packing.pools import pool
from planner.packing.problem import DayProblem
from planner.packing.search.loosen import loosen, spare
from planner.packing.search.roomy import with_spare
from planner.packing.solve import Limits, Proof
from planner.packing.translate import translate
from planner.schedule.model import Outcome, Schedule
from planner.schedule.values import stage_values

Make = Callable[..., DayProblem]


@pytest.mark.parametrize("count", [1, 3, 5])
def test_values_are_those_that_the_judge_recomputes(rich_day: Make, count: int) -> None:
    problem = rich_day(count)
    result = pack_day(problem, seconds=2)
    study = problem.study
    opening = study.open[problem.day][0].start
    schedule = Schedule(
        study.name,
        1,
        None,
        study.fingerprint,
        opening - timedelta(days=1),
        Outcome.FEASIBLE,
        count,
        (),
        result.visits,
        result.rig_tasks,
    )
    again = stage_values(schedule, study, problem.plans)
    assert {stage.name: stage.value for stage in result.stages} == again


def test_bounds_lie_on_the_right_side(rich_day: Make) -> None:
    result = pack_day(rich_day(4), seconds=2)
    for stage in result.stages:
        if stage.name in ("placed", "spare_s"):
            assert stage.value <= stage.bound
        else:
            assert stage.value >= stage.bound
        assert (stage.status is Outcome.OPTIMAL) == (stage.value == stage.bound)


def test_a_calm_plan_waits_less_than_the_tightest(rich_day: Make) -> None:
    from planner.packing.greedy import greedy

    core = pool(translate(rich_day(5))[0]).core
    tight = greedy(core, rounds=1, seconds=None)
    calm = calmest(core, tight, None)
    assert calm.placed(core) >= tight.placed(core)
    assert value(core, calm, "waiting_s") <= value(core, tight, "waiting_s")


def test_loosening_gives_spare_time_and_takes_nothing(rich_day: Make) -> None:
    from planner.packing.greedy import greedy

    core, _ = translate(rich_day(3))
    tight = greedy(core, rounds=1, seconds=None)
    kept = ["waiting_s", "last_end_s"]
    loose = loosen(core, tight, 60, kept, seconds=2, seed=1)
    assert spare(core, loose, 60) >= spare(core, tight, 60)
    assert all(value(core, loose, name) <= value(core, tight, name) for name in kept)


def test_an_easy_day_is_proven_in_every_stage(rich_day: Make) -> None:
    result = pack_day(rich_day(1), seconds=10)
    assert [stage.status for stage in result.stages] == [Outcome.OPTIMAL] * 4
    assert result.proven
    assert result.status is Outcome.OPTIMAL


def test_spare_time_is_had_or_proven_not_to_be(rich_day: Make) -> None:
    from planner.packing.greedy import greedy

    core, _ = translate(rich_day(2))
    plan = sort_alike(core, loosen(core, greedy(core, rounds=1, seconds=None), 60, [], seconds=2, seed=1))
    limits = Limits(60, workers=1)
    more = with_spare(core, plan, spare(core, plan, 60), {"placed": 2}, limits)
    assert more.answer is not None
    assert spare(core, more.answer, 60) >= spare(core, plan, 60)
    assert more.answer.placed(core) == 2
    assert with_spare(core, plan, core.horizon, {"placed": 2}, limits).proof is Proof.IMPOSSIBLE
