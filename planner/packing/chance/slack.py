"""Spare time where a delay would cost a window: the moments of a day whose turns are kept.

Each time one visit's overrun can push another (or its own later parts), the draws of a played day say by
how much it did. Room for that much is worth the share of draws that it saves. The sum is a
linear programme over distances, whose corners are whole steps.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from ortools.linear_solver import pywraplp

from planner.packing.chance.played import Floats, Played
from planner.packing.chance.turns import Node, apart, duties_of, spans, tail_of
from planner.packing.core import Answer, Core, Use, Wants
from planner.packing.grid import Grid

LEVELS = (0.5, 0.75, 0.86, 0.92, 0.96, 0.985)  # quantiles of a delay for which room may be made
WAITING = 0.0005  # what a step of a longer visit costs, where a step of a lost window in all draws is 1


@dataclass(frozen=True, slots=True)
class Worth:
    """What room is worth by what it protects, a window being 1; `own`: against a visit's own delays."""

    bout: float
    other: float
    own: float

    def of(self, room: Room) -> float:
        """What a step of that room is worth."""
        return getattr(self, room.protects, 1.0) * (self.own if room.is_own else 1.0)


@dataclass(frozen=True, slots=True)
class Room:
    """start of `later` - start of `earlier` + shift should be `needs`, in those shares of the draws."""

    earlier: Node
    later: Node
    shift: int
    needs: tuple[float, ...]
    shares: tuple[float, ...]
    protects: str  # window, bout, other
    is_own: bool


def draw_worth(draw: random.Random) -> Worth:
    """Somewhere within what has proved useful: what suits a day is found by playing it."""
    return Worth(10 ** draw.uniform(-2, 0), 10 ** draw.uniform(-3, -0.5), 10 ** draw.uniform(-1, 0.7))


class Slack:
    """The programme of one played day; `numbers` tell each job's number in it."""

    def __init__(
        self, core: Core, grid: Grid, answer: Answer, played: Played, numbers: Mapping[int, int]
    ) -> None:
        self.answer = answer
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        limits = spans(core, answer)
        self.starts = {node: self.solver.NumVar(low, high, "") for node, (low, high) in limits.items()}
        for rule in apart(core, answer):
            if rule.earlier != rule.later:
                self._apart(rule.earlier, rule.later, rule.low)
        self.aim = self.solver.Objective()
        self.aim.SetMinimization()
        for j in numbers:
            job = core.jobs[j]
            self.aim.SetCoefficient(self.starts[j, job.last], WAITING)
            self.aim.SetCoefficient(self.starts[j, job.first], -WAITING)
        self.short = [
            (room, share, self._short(room, need))
            for room in rooms(Scene(core, grid, answer, played, numbers))
            for need, share in zip(room.needs, room.shares, strict=True)
        ]

    def _apart(self, earlier: Node, later: Node, low: float) -> pywraplp.Constraint:
        row = self.solver.Constraint(low, self.solver.infinity())
        row.SetCoefficient(self.starts[later], 1)
        row.SetCoefficient(self.starts[earlier], -1)
        return row

    def _short(self, room: Room, need: float) -> pywraplp.Variable:
        """What is missing to the room that is needed."""
        short = self.solver.NumVar(0, self.solver.infinity(), "")
        self._apart(room.earlier, room.later, need - room.shift).SetCoefficient(short, 1)
        return short

    def solved(self, worth: Worth) -> Answer | None:
        """The answer with its moments moved; quick after the first time, for the last corner is near."""
        for room, share, short in self.short:
            self.aim.SetCoefficient(short, share * worth.of(room))
        if self.solver.Solve() != pywraplp.Solver.OPTIMAL:
            return None
        moved = tuple(
            None if its is None else tuple(round(self.starts[j, i].solution_value()) for i in range(len(its)))
            for j, its in enumerate(self.answer.starts)
        )
        return Answer(moved, self.answer.given)


@dataclass(frozen=True)
class Scene:
    """A day as planned and as played."""

    core: Core
    grid: Grid
    answer: Answer
    played: Played
    numbers: Mapping[int, int]

    def steps(self, moments: Floats) -> Floats:
        """Instants as steps of the day."""
        found: Floats = (moments - self.grid.origin.timestamp()) / self.grid.step_s
        return found


def rooms(scene: Scene) -> Iterator[Room]:
    """All room that is worth something: between visits on rigs and people, and within each visit."""
    core, numbers = scene.core, scene.numbers
    for r, duties in duties_of(core, scene.answer).items():
        name = f"{'person' if core.resources[r].is_person else 'rig'} {core.resources[r].id}"
        for (_, end, one), (_, _, other) in pairwise(duties):
            if one.job != other.job and other.job in numbers and not other.from_end:
                met = scene.played.met.get((numbers[other.job], other.first, name))
                if isinstance(met, np.ndarray):
                    yield from _before(scene, one, other.job, other.first, scene.steps(met) - end, False)
    for j in numbers:
        for i in range(1, len(core.jobs[j].lengths)):
            use = Use(j, Wants.STAFF, "", i - 1, i - 1, 0, ())
            planned = (scene.answer.starts[j] or ())[i - 1] + core.jobs[j].lengths[i - 1]
            late = scene.steps(scene.played.ends[numbers[j], i - 1]) - planned
            yield from _before(scene, use, j, i, late, True)


def _before(scene: Scene, one: Use, j: int, i: int, late: Floats, is_own: bool) -> Iterator[Room]:
    """Room between the end of a use and the activity i of job j, which its delay pushes."""
    job, tail = scene.core.jobs[j], tail_of(scene.core, one)
    earlier = (one.job, one.last)
    for window in job.windows:
        if not window.later == i == window.block:
            continue
        same = (g for g in job.gaps if (g.earlier, g.later) == (window.earlier, i))
        high = next((g.high for g in same if g.high is not None), None)
        if high is not None:
            moved = _moved(scene, j, window.earlier)
            yield from _room(earlier, (j, window.earlier), high - tail, late - moved, "window", is_own)
    protects = "bout" if i in {window.earlier for window in job.windows} else "other"
    yield from _room(earlier, (j, i), -tail, late, protects, is_own)


def _moved(scene: Scene, j: int, anchor: int) -> Floats:
    """By how much what a window counts from ended later than planned."""
    planned = (scene.answer.starts[j] or ())[anchor] + scene.core.jobs[j].lengths[anchor]
    return scene.steps(scene.played.ends[scene.numbers[j], anchor]) - planned


def _room(
    earlier: Node, later: Node, shift: int, late: Floats, protects: str, is_own: bool
) -> Iterator[Room]:
    """Room for the larger delays; the share of draws between two of them is what each is worth."""
    in_order = np.sort(late)
    needs = [float(np.ceil(in_order[int(level * (late.size - 1))])) for level in LEVELS]
    shares = [high - low for low, high in pairwise((*LEVELS, 1.0))]
    useful = [k for k, need in enumerate(needs) if need > 0]
    if useful:
        needed, worth = tuple(needs[k] for k in useful), tuple(shares[k] for k in useful)
        yield Room(earlier, later, shift, needed, worth, protects, is_own)
