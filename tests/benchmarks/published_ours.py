"""How the packing solves a published problem: from what settles much at once to the whole search.

1. In a project, pairs of tasks that take more than there is: which comes first, where distances settle it.
   What has no solution mostly ends here; otherwise a bound and settled orders remain.
2. A look with one worker and neither presolve nor linear relaxation: on a small problem, preparing the
   search takes longer than the search.
3. Where activities may choose their rig: rigs are chosen first, so that the greatest load is least, which
   is a bound of the last end as well; then times with that choice, which often meets the bound.
4. The whole with all workers, from the best so far and the best bound.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

from ortools.sat.python import cp_model
from published import Problem, Timetable
from published_core import as_timetable, choices, core_of, loads, model_of, settled, with_distances

from planner.packing.core import Answer, Core
from planner.packing.hints import add_hint
from planner.packing.rules import one_of_each_class_and_role
from planner.packing.solve import Limits, Proof, Run, run
from planner.packing.variables import Variables, add_variables

LOOK = 0.1  # of the time, for the first look; for choosing rigs
SHORT = 0.03  # of the time, for the first look where rigs are to be chosen after it
TIMES = 0.5  # of the time, for the times with chosen rigs
Outcome = tuple[Timetable | None, int | None, str]  # solution, bound, optimal | found | impossible | open


@dataclass
class Best:
    """What is known so far: an answer, its last end, and a bound."""

    answer: Answer | None = None
    value: int | None = None
    bound: int = 0
    is_impossible: bool = False

    def take(self, done: Run, *, is_whole: bool) -> None:
        """Takes over a run; only a run of the whole problem says what is impossible, or gives a bound."""
        if is_whole:
            self.is_impossible |= done.proof is Proof.IMPOSSIBLE
            self.bound = max(self.bound, done.bound or 0)
        if done.value is not None and (self.value is None or done.value < self.value):
            self.answer, self.value = done.answer, done.value

    @property
    def is_done(self) -> bool:
        """Whether nothing is left to find out."""
        return self.is_impossible or (self.value is not None and self.value <= self.bound)


def solve(problem: Problem, *, seconds: float, workers: int, seed: int) -> Outcome:
    """The least last end that is found within the time, and what is proven of it."""
    until = time.monotonic() + seconds
    core, best = core_of(problem), Best()
    if not problem.chains:
        least = settled(problem, core)
        if least is None:
            return None, None, "impossible"
        core, best.bound = with_distances(core, least), int(least[0, -1])
    v, end = model_of(problem, core)
    if not all(v.start):
        return None, None, "impossible"
    v.model.add(end >= best.bound)
    has_choice = any(len(ways) > 1 for ways in problem.tasks)
    best.take(look(v, end, seconds * (SHORT if has_choice else LOOK), seed), is_whole=True)
    if not best.is_done and has_choice:
        _rigs_first(problem, core, best, seconds, workers, seed)
    if not best.is_done:
        _start_from(v, end, best)
        limits = Limits(max(0.05, until - time.monotonic()), workers, seed)
        best.take(run(v, end, limits), is_whole=True)
    return _outcome(problem, best)


def _outcome(problem: Problem, best: Best) -> Outcome:
    if best.is_impossible:
        return None, None, "impossible"
    if best.answer is None:
        return None, best.bound, "open"
    return as_timetable(problem, best.answer), best.bound, "optimal" if best.is_done else "found"


def look(v: Variables, end: cp_model.IntVar, seconds: float, seed: int) -> Run:
    """A short run that spends nothing on preparing."""

    def bare(solver: cp_model.CpSolver) -> None:
        solver.parameters.cp_model_presolve = False
        solver.parameters.linearization_level = 0
        solver.parameters.max_time_in_seconds = seconds

    return run(v, end, Limits(seconds, 1, seed), settings=bare)


def _start_from(v: Variables, end: cp_model.IntVar, best: Best) -> None:
    v.model.add(end >= best.bound)
    if best.answer is not None and best.value is not None:
        v.model.add(end <= best.value)
        add_hint(v, best.answer)


def _rigs_first(problem: Problem, core: Core, best: Best, seconds: float, workers: int, seed: int) -> None:
    """Rigs by least greatest load, then by least sum of lengths; then the times with that choice."""
    chosen, load = _least_load(problem, core, LOOK * seconds, seed)
    best.bound = max(best.bound, load)
    if chosen is None or best.is_done:
        return
    v, end = model_of(problem, core)
    for its, given in zip(v.given, chosen.given, strict=True):
        for literals, r in zip(its, given or (), strict=True):
            v.model.add(literals[r] == 1)
    _start_from(v, end, Best(bound=best.bound))
    best.take(run(v, end, Limits(TIMES * seconds, workers, seed)), is_whole=False)


def _least_load(problem: Problem, core: Core, seconds: float, seed: int) -> tuple[Answer | None, int]:
    """Who serves what with the least greatest load, whatever the times; and that load's bound."""
    v = add_variables(cp_model.CpModel(), core)
    one_of_each_class_and_role(v)
    its = choices(problem, v)
    top = v.model.new_int_var(0, core.horizon, "greatest load")
    for r, load in loads(its).items():
        v.model.add(core.resources[r].many * top >= load)
    first = run(v, top, Limits(seconds, 1, seed))
    if first.value is None:
        return None, first.bound or 0
    v.model.add(top <= first.value)
    second = run(v, sum(one.load * one.literal for one in its), Limits(seconds, 1, seed))
    return second.answer or first.answer, first.bound or 0
