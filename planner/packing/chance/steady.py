"""One day made steadier by playing it: spare time goes where the played day loses windows.

Two moves take turns, and each is kept only if the day, played with the same random numbers, comes out
better: moments move while all turns stay (`slack`), and a few visits around one that is not sure
enough are placed anew, with rigs and people held before windows for as long as chance has it, never
against the visit's own blocks.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from planner.clock import seconds_between
from planner.packing.budget import Budget
from planner.packing.chance.played import Played, keeps_all
from planner.packing.chance.slack import Slack, draw_worth
from planner.packing.core import Answer, Core, Job, Use, Wants, closure, stretched
from planner.packing.grid import Grid
from planner.packing.hints import add_hint
from planner.packing.model import make_model
from planner.packing.play import Cast
from planner.packing.problem import DayProblem, VisitKey, key
from planner.packing.realise import as_answer, placed_visits, rig_tasks
from planner.packing.search.neighbourhood import around, put_back
from planner.packing.solve import Limits, run
from planner.packing.translate import translate
from planner.schedule.model import PlacedVisit, RigTask

PIECE_S = 0.6
WORTHS = 5  # ways to weigh spare time that are tried at once
TRY_S = 1.0  # what one try of each move takes at most, as a rule
HOLDS_S = (60, 120, 180, 240, 300)
SHORT = 4.0  # what missing the aim of a visit weighs against a share lost anywhere


@dataclass(frozen=True)
class Take:
    """One way to run the day, and how it went: the share of draws in which each visit kept all windows."""

    answer: Answer
    visits: tuple[PlacedVisit, ...]
    tasks: tuple[RigTask, ...]
    played: Played
    shares: Mapping[VisitKey, float]
    loss: float


@dataclass
class SteadyDay:
    """A packed day that is made steadier; `aims` say what share each visit is to reach."""

    problem: DayProblem
    cast: Cast
    aims: Mapping[VisitKey, float]
    workers: int = 2
    seed: int = 1
    tell: Callable[[int, int], None] | None = None
    core: Core = field(init=False)
    grid: Grid = field(init=False)

    def __post_init__(self) -> None:
        self.core, self.grid = translate(self.problem)
        self.draw = random.Random(self.seed)
        self.jobs = {key(visit): number for number, visit in enumerate(self.problem.visits)}

    @property
    def day(self) -> date:
        """Its date."""
        return self.problem.day

    def take(self, answer: Answer) -> Take:
        """The answer, played."""
        visits = placed_visits(self.problem, self.core, self.grid, answer)
        tasks = rig_tasks(self.core, self.grid, answer)
        played = self.cast.play(visits, tasks, self.day)
        roles = self.cast.roles(visits)
        shares = {
            key(role.visit): float(keeps_all(played, role, number).mean())
            for number, role in enumerate(roles)
        }
        loss = sum(SHORT * max(0.0, self.aims[v] - share) - share for v, share in shares.items())
        return Take(answer, visits, tasks, played, shares, loss)

    def begin(self, visits: Sequence[PlacedVisit], tasks: Sequence[RigTask] = ()) -> Take | None:
        """The day as it is packed; None where it does not stand on this grid."""
        answer = as_answer(self.problem, self.core, self.grid, visits)
        if answer is not None:
            answer = with_tasks(self.core, self.grid, answer, tasks)
        return None if answer is None else self.take(answer)

    def is_steady(self, take: Take) -> bool:
        """Whether every visit reaches its aim."""
        return self.steady(take) == len(take.shares)

    def steady(self, take: Take) -> int:
        """How many visits reach their aim."""
        return sum(share >= self.aims[visit] for visit, share in take.shares.items())

    def missing(self, take: Take) -> float:
        """How much is missing to the aims, summed."""
        return sum(max(0.0, self.aims[visit] - share) for visit, share in take.shares.items())

    def improve(
        self,
        best: Take,
        budget: Budget,
        seconds: float,
        *,
        enough: Callable[[Take], bool] = lambda take: False,
    ) -> Take:
        """The best found until the time is over, or enough; with one worker after so many tries."""
        tries = int(seconds / TRY_S)
        for number in range(1, 100_000):
            stopped = budget.stop is not None and budget.stop()
            over = number > tries if budget.workers == 1 else budget.left_s <= 0
            if not best.shares or stopped or over or enough(best):
                break
            turns_stay = number < 3 or number % 3 == 0
            answer = best.answer if turns_stay else self._piece(best, number, budget)
            found = self._slacken(best if answer is best.answer else self.take(answer))
            if found.loss < best.loss - 1e-9:
                best = found
                if self.tell:
                    self.tell(self.steady(best), len(best.shares))
        return best

    def _slacken(self, take: Take) -> Take:
        """Moments moved, if that is better."""
        numbers = {self.jobs[key(visit)]: number for number, visit in enumerate(take.visits)}
        slack = Slack(self.core, self.grid, take.answer, take.played, numbers)
        best = take
        for _ in range(WORTHS):
            answer = slack.solved(draw_worth(self.draw))
            moved = take if answer is None else self.take(answer)
            best = moved if moved.loss < best.loss else best
        return best

    def _piece(self, best: Take, number: int, budget: Budget) -> Answer:
        """A few visits placed anew around one that is not sure enough."""
        free = self._neighbours(best)
        hold = self.grid.up(self.draw.choice(HOLDS_S))
        core = held(self.core, hold, free if self.draw.random() < 0.5 else range(len(self.core.jobs)))
        part = around(core, best.answer, free)
        jobs = tuple(replace(job, must=True) if j in free else job for j, job in enumerate(part.jobs))
        v = make_model(replace(part, jobs=jobs), order_alike=False)
        add_hint(v, best.answer)
        seconds = PIECE_S if budget.workers == 1 else min(PIECE_S, budget.left_s)
        limits = Limits(max(0.05, seconds), self.workers, self.seed + number, budget.stop)
        offsets = [
            v.start[j][w.later] - v.start[j][w.earlier] for j in free for w in self.core.jobs[j].windows
        ]
        done = run(v, sum(offsets) if offsets else None, limits)
        return best.answer if done.answer is None else put_back(self.core, best.answer, done.answer, free)

    def _neighbours(self, best: Take) -> list[int]:
        """A visit, the likelier the more it lacks, and those nearest to it in time."""
        lacks = {
            self.jobs[v]: 0.01 + max(0.0, self.cast_ceiling(v) - share) for v, share in best.shares.items()
        }
        (worst,) = self.draw.choices(list(lacks), list(lacks.values()))
        starts = {j: (best.answer.starts[j] or (0,))[self.core.jobs[j].first] for j in lacks}
        near = sorted(lacks, key=lambda j: abs(starts[j] - starts[worst]) * self.draw.uniform(0.7, 1.3))
        return near[: self.draw.choice((2, 3, 4, 5))]

    def cast_ceiling(self, visit: VisitKey) -> float:
        """What a visit reaches with the laboratory to itself."""
        return self.cast.ceiling(visit)


def with_tasks(core: Core, grid: Grid, answer: Answer, tasks: Sequence[RigTask]) -> Answer | None:
    """The answer with the first tasks of rigs as placed; None where one of them is not of this day."""
    starts, given = list(answer.starts), list(answer.given)
    people = {r.id: number for number, r in enumerate(core.resources) if r.is_person}
    for task in tasks:
        second = seconds_between(grid.origin, task.start)
        j = next(
            (
                j
                for j, job in enumerate(core.jobs)
                if job.prepares is not None
                and starts[j] is None
                and core.resources[job.prepares].id == task.rig
                and {use.label for use in core.uses[j] if use.wants is Wants.STAFF} == set(task.staff)
            ),
            None,
        )
        if j is None or second % grid.step_s:
            return None
        starts[j] = (second // grid.step_s,)
        given[j] = tuple(
            use.choices[0] if use.wants is Wants.RIG else people[task.staff[use.label]]
            for use in core.uses[j]
        )
    return Answer(tuple(starts), tuple(given))


def held(core: Core, hold: int, jobs: Sequence[int] | range) -> Core:
    """The day with rigs and people of the windowed blocks of these jobs held so long before, at most."""
    chosen = set(jobs)
    uses = tuple(
        tuple(_held(core, use, hold) for use in its) if j in chosen else its
        for j, its in enumerate(core.uses)
    )
    return replace(core, uses=uses)


def _held(core: Core, use: Use, hold: int) -> Use:
    """The use with its hold; as long as no block of its own visit is kept out by it."""
    job = core.jobs[use.job]
    if use.from_end or use.first not in {window.block for window in job.windows}:
        return use
    return replace(use, lead=max(use.lead, min(hold, own_room(core, job, use))))


def own_room(core: Core, job: Job, use: Use) -> int:
    """The least time between what the visit itself does before with the same rigs or people, and the use."""
    distances = closure(len(job.lengths), stretched(job))
    room = 10**6
    for other in core.uses[use.job]:
        if other is use or other.last >= use.first or not set(other.choices) & set(use.choices):
            continue
        least = (distances.at_least(other.last, use.first) if distances else None) or 0
        room = min(room, least - job.lengths[other.last] - other.tail)
    return max(0, room)
