"""What people lose at the edges of a day: never more than real plans lose; bounds that are never too low."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from planner.packing.bounds.arithmetic import most_placed
from planner.packing.bounds.edge_bounds import most_by_edges
from planner.packing.bounds.edges import least_lost
from planner.packing.bounds.shapes import alike_day, mirrored
from planner.packing.core import EVER, Answer, Core, Gap, Job, Resource, Use, Wants
from planner.packing.greedy import greedy
from planner.packing.model import make_model
from planner.packing.objective import AIMS
from planner.packing.pools import pool
from planner.packing.problem import DayProblem
from planner.packing.solve import Limits, Proof, run
from planner.packing.translate import translate
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DAY = Path(__file__).parents[2] / "data" / "treadmill_day"


@pytest.fixture(scope="module")
def treadmill() -> Core:
    """A day invented for this project: fifteen activities a visit, three people, one treadmill."""
    study = read_study(DAY)
    (day,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)
    core, _ = translate(DayProblem(study, visit_plans(study), day, visits))
    return pool(core).core


def small_day(seed: int) -> Core:
    """Alike visits: admission by anyone, a bout on the only rig by B, a measure within a window by A."""
    draw = random.Random(seed)
    lengths = tuple(draw.randint(1, 5) for _ in range(4))
    gaps = [Gap(i, i + 1, lengths[i], None) for i in range(3)]
    gaps[1] = Gap(1, 2, lengths[1], lengths[1] + draw.randint(0, 2))
    horizon, count = draw.randint(18, 30), 6
    stretch = draw.choice([None, 3, 8])
    people = (
        Resource("A", True, frozenset("a"), ((0, horizon),)),
        Resource("B", True, frozenset("b"), ((0, horizon // 2), (horizon // 2 + 2, horizon))),
    )
    resources = (*people, Resource("R", False, frozenset("r"), ((0, horizon),)))
    late = draw.randint(0, 6)

    def job(j: int) -> Job:
        within = ((late if j % 3 == 0 else 0, horizon),)
        kind = (within,)
        return Job(j, lengths, tuple(gaps), (), within, (EVER,), 0, 3, sum(lengths), stretch, False, kind)

    def uses(j: int) -> tuple[Use, ...]:
        return (
            Use(j, Wants.STAFF, "any", 0, 0, 0, (0, 1)),
            Use(j, Wants.STAFF, "b", 1, 1, 0, (1,)),
            Use(j, Wants.RIG, "r", 1, 1, 1, (2,)),
            Use(j, Wants.STAFF, "a", 2, 2, 0, (0,)),
            Use(j, Wants.STAFF, "any", 3, 3, 0, (0, 1)),
        )

    jobs, wanted = tuple(map(job, range(count))), tuple(map(uses, range(count)))
    return Core(60, horizon, jobs, wanted, resources)


def most_of(core: Core) -> int:
    """The most visits, by solving the day outright."""
    v = make_model(core)
    found = run(v, AIMS["placed"](v).expression, Limits(20, 2))
    assert found.proof is Proof.OPTIMAL
    assert found.answer is not None
    return found.answer.placed(core)


def test_bounds_are_never_below_what_small_days_hold_and_are_lower_than_counting_on_some() -> None:
    gained = 0
    for seed in range(40):
        core = small_day(seed)
        counted = most_placed(core)
        bound = most_by_edges(core, counted, 0, Limits(2, 1))
        assert most_of(core) <= bound <= counted, seed
        gained += bound < counted
    assert gained


@pytest.mark.parametrize("share", [0.3, 0.6])
def test_no_plan_loses_less_at_an_edge_than_was_proven(treadmill: Core, share: float) -> None:
    people = frozenset(r for r, one in enumerate(treadmill.resources) if one.is_person)
    answer = greedy(treadmill, rounds=2, seconds=None)
    day = alike_day(treadmill, answer.placed(treadmill))
    assert day is not None
    until = int(share * treadmill.jobs[0].alone)
    for edge, start, end in ((day, 0, until), (mirrored(day), day.horizon - until, day.horizon)):
        lost = day.room(people, start, end) - work_between(treadmill, answer, start, end)
        proven = least_lost(edge, people, until, 10**6, Limits(5, 1))
        assert 0 < proven <= lost


def work_between(core: Core, answer: Answer, start: int, end: int) -> int:
    """Steps that people work between two moments."""
    total = 0
    for j, starts in enumerate(answer.starts):
        for use in core.uses[j] if starts is not None else ():
            if starts is not None and core.resources[use.choices[0]].is_person:
                begin = starts[use.first]
                total += max(0, min(end, begin + core.jobs[j].lengths[use.first]) - max(start, begin))
    return total


def test_a_day_seen_twice_from_its_end_is_the_day(treadmill: Core) -> None:
    day = alike_day(treadmill, 10)
    assert day is not None
    assert mirrored(mirrored(day)) == day


def test_visits_that_differ_are_left_to_other_bounds(treadmill: Core) -> None:
    longer = replace(treadmill.jobs[0], lengths=(*treadmill.jobs[0].lengths[:-1], 999))
    mixed = replace(treadmill, jobs=(longer, *treadmill.jobs[1:]))
    assert alike_day(mixed, 5) is None
    assert most_by_edges(mixed, 17, 0, Limits(1, 1)) == 17


def test_nothing_is_claimed_without_time(treadmill: Core) -> None:
    assert most_by_edges(treadmill, 17, 0, Limits(0.001, 1)) == 17
