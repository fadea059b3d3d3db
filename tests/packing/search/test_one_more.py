"""One visit more, and the walks that press a day together: every plan on the way keeps every rule."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from pathlib import Path

import pytest

from planner.packing.core import Answer, Core
from planner.packing.greedy import greedy
from planner.packing.model import keeps_rules
from planner.packing.objective import value
from planner.packing.problem import DayProblem
from planner.packing.search.lns import Effort, Hunt, search
from planner.packing.search.one_more import _beginnings, _candidates, _longer
from planner.packing.search.overtime import without_job
from planner.packing.translate import translate
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DAY = Path(__file__).parents[2] / "data" / "treadmill_day"


@pytest.fixture
def full() -> tuple[Core, Answer]:
    """A day with some visits placed; the first of them may come in the morning only, and is left out."""
    study = read_study(DAY)
    (day,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)
    core, _ = translate(DayProblem(study, visit_plans(study), day, visits))
    plan = greedy(core, rounds=1, seconds=None)
    left = core.visits()[0]
    morning = replace(core.jobs[left], within=((0, core.horizon // 2),), alike="morning")
    core = replace(core, jobs=tuple(morning if j == left else job for j, job in enumerate(core.jobs)))
    return core, without_job(plan, left)


def test_one_more_begins_with_a_day_that_keeps_every_rule_but_its_end(full: tuple[Core, Answer]) -> None:
    core, plan = full
    long = _longer(core, plan)
    beginnings = list(_beginnings(core, long, plan, random.Random(1)))
    assert beginnings
    assert all(answer.placed(core) == plan.placed(core) + 1 for answer in beginnings)
    assert all(keeps_rules(long.core, answer) for answer in beginnings)


def test_a_visit_of_the_morning_may_take_the_place_of_another(full: tuple[Core, Answer]) -> None:
    core, plan = full
    early = core.visits()[0]
    long = _longer(core, plan)
    taken = {
        answer.starts[early]
        for answer in _beginnings(core, long, plan, random.Random(1))
        if answer.starts[early] is not None
    }
    assert taken & set(plan.starts)


def test_who_is_wished_for_serves_also_where_others_change_places(full: tuple[Core, Answer]) -> None:
    """A visit for which one person is wished took the place of one that somebody else serves."""
    core, plan = full
    early = core.visits()[0]
    person = next(r for r, resource in enumerate(core.resources) if "lead" in resource.labels)
    leads = tuple(n for n, use in enumerate(core.uses[early]) if use.label == "lead")
    jobs = tuple(replace(job, alike=None) if j == early else job for j, job in enumerate(core.jobs))
    wished = tuple((((early, n),), person) for n in leads)
    core = replace(core, jobs=jobs, served_by=wished)
    beginnings = list(_beginnings(core, _longer(core, plan), plan, random.Random(1)))
    assert all(keeps_rules(_longer(core, plan).core, answer) for answer in beginnings)


def test_one_candidate_of_each_kind(full: tuple[Core, Answer]) -> None:
    core, plan = full
    found = _candidates(core, plan, random.Random(1))
    kinds = [core.jobs[j].alike for j in found]
    assert len(kinds) == len(set(kinds))
    assert all(plan.starts[j] is None for j in found)


@pytest.mark.parametrize("workers", [1, 2])
def test_walks_lose_nothing_and_keep_every_rule(full: tuple[Core, Answer], workers: int) -> None:
    core, plan = full
    hunt = Hunt(
        score=lambda answer: value(core, answer, "waiting_s"),
        aim=lambda v, _, free, weights: sum(
            weights[j] * (v.end(j, core.jobs[j].last) - v.start[j][core.jobs[j].first]) for j in free
        ),
        enough=lambda _: False,
        loss=120,
    )
    effort = Effort(time.monotonic() + 4, 4, workers, 1, patience=5)
    found = search(core, plan, hunt, effort)
    assert value(core, found, "waiting_s") <= value(core, plan, "waiting_s")
    assert found.placed(core) == plan.placed(core)
    assert keeps_rules(core, found)
    if workers == 1:
        assert search(core, plan, hunt, effort) == found


def test_a_fault_in_a_walk_is_raised(full: tuple[Core, Answer]) -> None:
    core, plan = full

    def broken(*_: object) -> int:
        raise RuntimeError("no aim")

    hunt = Hunt(score=lambda _: 1, aim=broken, enough=lambda _: False)
    with pytest.raises(RuntimeError, match="no aim"):
        search(core, plan, hunt, Effort(time.monotonic() + 5, 5, 2, 1))
