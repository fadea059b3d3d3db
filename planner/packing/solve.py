"""One run of the solver on one aim: what it found, what it proved, and how it was stopped."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import ortools
from ortools.sat.python import cp_model

from planner.packing.core import Answer
from planner.packing.hints import read_answer
from planner.packing.progress import Stop
from planner.packing.variables import Variables

SOLVER = f"OR-Tools CP-SAT {ortools.__version__}"
SLACK = 4  # with one worker, wall time may be so many times what the deterministic limit takes as a rule
UNITS = 0.12  # deterministic units that one second takes as a rule, measured on days of 6 to 18 visits


class Proof(Enum):
    """What a run has shown."""

    OPTIMAL = "optimal"
    FOUND = "found"
    IMPOSSIBLE = "impossible"
    NOTHING = "nothing"  # neither a plan nor a proof; never the same as impossible


@dataclass(frozen=True, slots=True)
class Run:
    """The best answer and value of a run (None: none), its bound, and when the first answer came."""

    proof: Proof
    answer: Answer | None
    value: int | None
    bound: int | None
    first_s: float | None


@dataclass(frozen=True, slots=True)
class Limits:
    """How long and with what a run may work; one worker stops by deterministic time, alike each time."""

    seconds: float
    workers: int = 2
    seed: int = 1
    stop: Stop | None = None
    until: float | None = None  # of time.monotonic(): the end, whatever else is said


def run(
    v: Variables,
    aim: cp_model.LinearExprT | None,
    limits: Limits,
    found: Callable[[Answer, int, int], None] | None = None,
    settings: Callable[[cp_model.CpSolver], None] | None = None,
) -> Run:
    """Makes `aim` as small as can be (None: any answer); `found` hears each better answer, value, bound."""
    if aim is not None:
        v.model.minimize(aim)
    solver = cp_model.CpSolver()
    set_limits(solver, limits)
    if settings:
        settings(solver)
    listener = _Listener(v, found)
    with Stopper(solver, limits.stop) as stopper:
        status = solver.solve(v.model, listener)
    return _outcome(solver, status, listener, aim is not None, stopper.stopped)


def set_limits(solver: cp_model.CpSolver, limits: Limits) -> None:
    """How long, with how many workers and which seed the solver works."""
    leave_interrupts(solver)
    solver.parameters.num_workers = limits.workers
    solver.parameters.random_seed = limits.seed
    if limits.workers == 1:
        solver.parameters.max_deterministic_time = UNITS * limits.seconds
        solver.parameters.max_time_in_seconds = SLACK * limits.seconds + 10
    else:
        solver.parameters.max_time_in_seconds = limits.seconds
    if limits.until is not None:
        most = max(0.01, limits.until - time.monotonic())
        solver.parameters.max_time_in_seconds = min(most, solver.parameters.max_time_in_seconds)


def leave_interrupts(solver: cp_model.CpSolver) -> None:
    """Leaves Ctrl-C to the program: the solver would hear it alone, and once it has run, end the program."""
    solver.parameters.catch_sigint_signal = False


def _outcome(
    solver: cp_model.CpSolver, status: int, listener: _Listener, has_aim: bool, stopped: bool
) -> Run:
    if status == cp_model.MODEL_INVALID:
        raise ValueError("the model of the day is not valid")
    if status == cp_model.INFEASIBLE:
        return Run(Proof.IMPOSSIBLE, None, None, None, None)
    bound = round(solver.best_objective_bound) if has_aim else None
    if listener.answer is None:
        return Run(Proof.NOTHING, None, None, bound or None, None)  # 0: the run ended before it knew any
    value = listener.value if has_aim else None
    proven = status == cp_model.OPTIMAL and (not stopped or value == bound)
    return Run(Proof.OPTIMAL if proven else Proof.FOUND, listener.answer, value, bound, listener.first_s)


class _Listener(cp_model.CpSolverSolutionCallback):  # type: ignore[misc]
    """Keeps the last answer and says when one comes."""

    def __init__(self, v: Variables, found: Callable[[Answer, int, int], None] | None) -> None:
        super().__init__()
        self.v, self.found = v, found
        self.answer: Answer | None = None
        self.value: int | None = None
        self.first_s: float | None = None

    def on_solution_callback(self) -> None:
        """Called by the solver with each better answer."""
        self.answer = read_answer(self.v, list(self.response_proto.solution))
        self.value = round(self.objective_value)
        if self.first_s is None:
            self.first_s = self.wall_time
        if self.found:
            self.found(self.answer, self.value, round(self.best_objective_bound))


class Stopper:
    """Asks `stop` a few times a second while the solver runs, and ends it when told so."""

    def __init__(self, solver: cp_model.CpSolver, stop: Stop | None) -> None:
        self.solver, self.stop, self.stopped = solver, stop, False
        self.done = threading.Event()
        self.thread = threading.Thread(target=self._watch, daemon=True) if stop else None

    def __enter__(self) -> Stopper:
        if self.thread:
            self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.done.set()
        if self.thread:
            self.thread.join()

    def _watch(self) -> None:
        while not self.done.wait(0.1):
            if self.stop and self.stop():
                self.stopped = True
                self.solver.stop_search()
                return
