"""Pieces of a day: what is free, how far it may move, and how pieces learn how large they can be."""

from __future__ import annotations

import random
from functools import cache
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from planner.packing.core import Answer, Core
from planner.packing.greedy import greedy
from planner.packing.hints import add_hint
from planner.packing.model import keeps_rules, make_model
from planner.packing.objective import value
from planner.packing.problem import DayProblem
from planner.packing.search.neighbourhood import around, put_back
from planner.packing.search.pieces import FEWEST, LEAST_S, MOST_S, Kind, Piece, draw_piece, kinds
from planner.packing.solve import Limits, run
from planner.packing.translate import translate
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DAY = Path(__file__).parents[2] / "data" / "treadmill_day"


@cache
def packed() -> tuple[Core, Answer]:
    """A day, and a first plan of it."""
    study = read_study(DAY)
    (day,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)
    core, _ = translate(DayProblem(study, visit_plans(study), day, visits))
    return core, greedy(core, rounds=1, seconds=None)


def anew(core: Core, now: Answer, piece: Piece) -> Answer:
    """The plan with the piece packed for early ends."""
    v = make_model(piece.cut(around(core, now, piece.free), now), order_alike=False)
    piece.hold(v, now)
    add_hint(v, now)
    done = run(v, sum(v.end(j, core.jobs[j].last) for j in piece.free), Limits(5.0, 1))
    assert done.answer is not None
    return put_back(core, now, done.answer, piece.free)


def test_no_activity_of_a_piece_moves_further_than_it_may() -> None:
    core, now = packed()
    here = [j for j in core.visits() if now.starts[j] is not None]
    piece = draw_piece(core, now, here, Kind(5, 300), random.Random(1), late=False)
    found = anew(core, now, piece)
    assert keeps_rules(core, found)
    moved = {
        j: max(abs(a - b) for a, b in zip(found.starts[j] or (), now.starts[j] or (), strict=True))
        for j in here
    }
    assert max(moved[j] for j in piece.free) <= piece.width
    assert all(moved[j] == 0 for j in here if j not in piece.free)


def test_five_that_move_a_little_gain_where_nobody_alone_can_be_earlier() -> None:
    """From a plan that no single visit can better, which the greedy's own order is as a rule."""
    core, now = packed()
    here = [j for j in core.visits() if now.starts[j] is not None]
    width = 1800 // core.step_s
    for _ in range(3):
        for j in here:
            now = anew(core, now, Piece((j,), width))
    alone = value(core, now, "last_end_s")
    ends = sum((now.starts[j] or ())[core.jobs[j].last] for j in here)
    order = sorted(here, key=lambda j: (now.starts[j] or ())[core.jobs[j].first])
    for first in range(len(order) - 4):
        now = anew(core, now, Piece(tuple(order[first : first + 5]), 600 // core.step_s))
    assert keeps_rules(core, now)
    assert value(core, now, "last_end_s") <= alone
    assert sum((now.starts[j] or ())[core.jobs[j].last] for j in here) < ends


@given(st.lists(st.booleans(), max_size=200), st.integers(1, 40), st.integers(0, 99))
def test_a_kind_stays_between_its_least_and_all_visits(told: list[bool], most: int, seed: int) -> None:
    draw = random.Random(seed)
    for kind in kinds():
        for proven in told:
            kind.learn(draw, most, proven=proven)
            assert LEAST_S <= kind.width_s <= MOST_S
            assert kind.least <= kind.visits <= max(most, kind.least)


def test_a_kind_that_is_always_proven_ends_with_the_whole_day() -> None:
    kind, draw = Kind(FEWEST, 600), random.Random(1)
    for _ in range(1000):
        kind.learn(draw, 12, proven=True)
    assert (kind.visits, kind.width_s) == (12, MOST_S)


@given(st.integers(0, 999), st.booleans(), st.sampled_from([1, 3, 5, 40]))
def test_a_piece_has_different_visits_of_the_day(seed: int, late: bool, count: int) -> None:
    core, now = packed()
    here = [j for j in core.visits() if now.starts[j] is not None]
    piece = draw_piece(core, now, here, Kind(count, 600), random.Random(seed), late=late)
    assert len(set(piece.free)) == len(piece.free) == min(count, len(here))
    assert set(piece.free) <= set(here)
