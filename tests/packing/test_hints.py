"""A day that is handed back as a hint is a whole answer to the solver, not a part of one."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import pytest
from ortools.sat.python import cp_model

from planner.packing.core import Answer
from planner.packing.day import pack_day
from planner.packing.greedy import refill
from planner.packing.hints import add_hint
from planner.packing.model import make_model
from planner.packing.objective import AIMS
from planner.packing.problem import DayProblem
from planner.packing.realise import as_answer
from planner.packing.translate import translate
from planner.packing.variables import Variables

Make = Callable[..., DayProblem]


def handed_back(problem: DayProblem) -> tuple[Variables, Answer]:
    """The day's own model, and its packed plan as an answer to it."""
    result = pack_day(problem, seconds=2, stages=("placed",), workers=1)
    assert len(result.visits) == len(problem.visits)
    core, grid = translate(problem)
    answer = as_answer(problem, core, grid, result.visits)
    assert answer is not None
    return make_model(core, order_alike=False), refill(core, answer, ())


def status_as_hinted(v: Variables) -> int:
    """What becomes of the model where every variable with a hint has just that value."""
    solver = cp_model.CpSolver()
    solver.parameters.fix_variables_to_their_hinted_value = True
    solver.parameters.num_workers = 1
    return int(solver.solve(v.model))


def indices(literals: Iterable[cp_model.IntVar]) -> set[int]:
    return {one.index for one in literals}


@pytest.mark.parametrize("aim", ["placed", "waiting_s", "last_end_s"])
def test_an_unchanged_plan_is_accepted_as_a_whole_hint(rich_day: Make, aim: str) -> None:
    v, answer = handed_back(rich_day(3))
    v.model.minimize(AIMS[aim](v).expression)
    add_hint(v, answer)
    chosen = indices(one for its in (v.placed, *v.start, *v.line) for one in its)
    chosen |= indices(one for uses in v.given for its in uses for one in its.values())
    assert chosen - {v.yes.index, v.no.index} <= set(v.model.proto.solution_hint.vars)
    assert any(v.line), "R02 can come in two spans: which one is a choice too"
    assert status_as_hinted(v) == cp_model.OPTIMAL


def test_a_plan_with_two_visits_at_once_is_no_hint(rich_day: Make) -> None:
    """One ergometer: the same starts for two participants cannot be kept."""
    v, answer = handed_back(rich_day(2))
    first, second = (n for n, _ in enumerate(answer.starts[:2]))
    starts = list(answer.starts)
    starts[second] = starts[first]
    add_hint(v, Answer(tuple(starts), answer.given))
    assert status_as_hinted(v) == cp_model.INFEASIBLE
