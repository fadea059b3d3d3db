"""The whole model of a day: choices, rules, and what helps."""

from __future__ import annotations

from dataclasses import replace

from ortools.sat.python import cp_model

from planner.packing.core import Answer, Core
from planner.packing.helps import add_helps
from planner.packing.hints import add_hint
from planner.packing.intervals import make_intervals
from planner.packing.rules import add_rules
from planner.packing.solve import leave_interrupts
from planner.packing.variables import Variables, add_variables


def make_model(core: Core, *, order_alike: bool = True) -> Variables:
    """A new model of the day with all its rules and no aim."""
    v = add_variables(cp_model.CpModel(), core)
    intervals = make_intervals(v)
    add_rules(v, intervals)
    add_helps(v, order_alike=order_alike)
    return v


def keeps_rules(core: Core, answer: Answer) -> bool:
    """Whether the answer, as it is, keeps every rule of the day."""
    jobs = tuple(replace(job, must=False) for job in core.jobs)
    v = make_model(replace(core, jobs=jobs), order_alike=False)
    if any(starts is not None and not v.start[j] for j, starts in enumerate(answer.starts)):
        return False
    add_hint(v, answer)
    solver = cp_model.CpSolver()
    leave_interrupts(solver)
    solver.parameters.num_workers = 1
    solver.parameters.fix_variables_to_their_hinted_value = True
    return solver.solve(v.model) in (cp_model.OPTIMAL, cp_model.FEASIBLE)
