"""The stages of a day's search: each starts from the best plan so far and can only make it better."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from planner.packing.bounds.alike import sort_alike
from planner.packing.bounds.alone import least_waiting
from planner.packing.bounds.arithmetic import earliest_last_end, most_placed
from planner.packing.bounds.edge_bounds import most_by_edges
from planner.packing.bounds.last_end_bounds import earliest_proven
from planner.packing.bounds.narrowed import narrowed
from planner.packing.core import Answer, Core, only
from planner.packing.days.spread import calmest
from planner.packing.greedy import greedy, refill
from planner.packing.hints import add_hint
from planner.packing.model import make_model
from planner.packing.objective import AIMS, is_better, value
from planner.packing.progress import Progress, Report, Stop
from planner.packing.search.hunts import earlier_end, less_waiting
from planner.packing.search.lns import Effort
from planner.packing.search.one_more import one_more
from planner.packing.solve import Limits, Proof, Run, run
from planner.packing.who_first import network_of, settle
from planner.schedule.model import Outcome, Stage

SHARE = 0.6  # of the time left, for a stage that others follow
WHOLE = {"placed": 0.2, "waiting_s": 0.3, "last_end_s": 0.4}  # of a stage's time, for the whole day at once
FEW, MANY = 5, 8  # visits: up to FEW the whole day at once is all there is to do; beyond MANY it finds little
MANY_SHARE = {"placed": 0.25, "waiting_s": 0.5, "last_end_s": 0.5}  # of it, beyond MANY
MANY_WHOLE_S = 2.0
EDGES = {"placed": 0.15, "last_end_s": 0.4}  # of what is left, for a better bound amid a stage
BEFORE_EDGES = {"placed": 0.5, "last_end_s": 0.4}  # and for pieces before it
AGAIN = 500_000  # added to the seed of a search that goes on: it draws anew
LEAST_EDGES_S, MOST_EDGES_S = 1.5, {"placed": 12.0, "last_end_s": 16.0}
MOST_BEFORE_S = {"placed": 20.0, "last_end_s": 16.0}


class Search:
    """The best plan so far, and the stages that have been gone through."""

    def __init__(
        self, core: Core, seconds: float, workers: int, seed: int, report: Report | None, stop: Stop | None
    ) -> None:
        self.core, self.workers, self.seed, self.report, self.stop = core, workers, seed, report, stop
        self.began, self.seconds, self.spent = time.monotonic(), seconds, 0.0
        self.best = Answer((None,) * len(core.jobs), (None,) * len(core.jobs))
        self.stages: list[Stage] = []
        self.first_s = 0.0
        self.is_impossible = False  # proven: the visits that must come do not fit together

    @property
    def left_s(self) -> float:
        """Seconds that remain; with one worker those not given out yet, whatever the clock says."""
        gone = self.spent if self.workers == 1 else time.monotonic() - self.began
        return max(0.05, self.seconds - gone)

    @property
    def until(self) -> float:
        """The end, of time.monotonic()."""
        return self.began + self.seconds

    @property
    def is_over(self) -> bool:
        """Whether time is up, or somebody has asked to stop."""
        over = self.workers > 1 and time.monotonic() >= self.until
        return over or (self.stop is not None and self.stop())

    def start(self, answer: Answer) -> None:
        """Takes over a plan if it places more than the best so far."""
        if answer.placed(self.core) > self.best.placed(self.core):
            self.best = answer
            self.first_s = self.first_s or time.monotonic() - self.began
            self._tell("placed", None)(answer)

    def require(self) -> None:
        """Places the visits that must come, by themselves first where the best plan lacks some of them."""
        musts = [j for j in self.core.visits() if self.core.jobs[j].must]
        asked, optional = self.core, tuple(replace(job, must=False) for job in self.core.jobs)
        self.core = replace(self.core, jobs=optional)
        if any(self.best.starts[j] is None for j in musts):
            inner = Search(
                only(self.core, musts), self.left_s / 2, self.workers, self.seed, self.report, self.stop
            )
            inner.start(greedy(inner.core, seed=self.seed, seconds=None if self.workers == 1 else 0.3))
            inner.improve("placed", more=0)
            self.spent += self.seconds / 2
            if inner.best.placed(self.core) > sum(self.best.starts[j] is not None for j in musts):
                self.best = refill(self.core, inner.best, [j for j in self.core.visits() if j not in musts])
            stage = inner.stages[0]
            lacks_some = stage.status is Outcome.OPTIMAL and stage.value < len(musts)
            self.is_impossible = lacks_some or settle(network_of(asked)) is None
        self.best = sort_alike(self.core, self.best)  # alike visits: the first ones are those that come
        come = {j for j in musts if self.best.starts[j] is not None}
        jobs = tuple(replace(job, must=j in come) for j, job in enumerate(self.core.jobs))
        self.core = replace(self.core, jobs=jobs)

    def improve(self, name: str, more: int) -> None:
        """Goes through one stage; `more` say how many follow."""
        seconds = self.left_s * (SHARE if more else 1.0)
        until = time.monotonic() + seconds
        if name == "last_end_s":
            self._narrow()
        bound = self._first_bound(name)
        self._tell(name, bound)(self.best)
        if name == "waiting_s" and all(stage.name == "placed" for stage in self.stages):
            self.best = calmest(self.core, self.best, None if self.workers == 1 else 0.25 * seconds)
        if not self._is_reached(name, bound) and not (self.stop and self.stop()):
            part = self._part_for_whole(name, seconds)
            found = self._whole(name, part, bound)
            bound = self._take(name, found, bound)
            if not self._is_reached(name, bound) and found.proof is not Proof.IMPOSSIBLE:
                bound = self._by_turns(name, seconds - part, until, bound)
        reached = value(self.core, self.best, name)
        proven = self._is_reached(name, bound)
        outcome = Outcome.OPTIMAL if proven else Outcome.FEASIBLE
        self.stages.append(Stage(name, reached, bound, outcome))
        self.spent += seconds if self.workers == 1 else 0.0

    def finished(self) -> tuple[Stage, ...]:
        """The stages with the values of the final plan: a later stage may have improved an earlier one."""
        found = []
        for stage in self.stages:
            reached = value(self.core, self.best, stage.name)
            proven = not is_better(stage.name, stage.bound, reached)
            found.append(
                Stage(stage.name, reached, stage.bound, Outcome.OPTIMAL if proven else Outcome.FEASIBLE)
            )
        return tuple(found)

    def _by_turns(self, name: str, seconds: float, until: float, bound: int) -> int:
        """Pieces of the day, a better bound, and pieces again for all the time that the bound left."""
        left_s = seconds if self.workers == 1 else until - time.monotonic()
        edges_s = self._part_for_edges(name, left_s)
        if edges_s:
            before_s = min(BEFORE_EDGES[name] * left_s, MOST_BEFORE_S[name])
            self._pieces(name, before_s, bound, self.seed)
            bound = self._by_edges(name, edges_s, bound)
            left_s = left_s - before_s - edges_s if self.workers == 1 else until - time.monotonic()
        if left_s > 0:
            self._pieces(name, left_s, bound, self.seed + AGAIN)
        return bound

    def _narrow(self) -> None:
        """Takes in what the waiting that was reached leaves to each visit, where all have a place."""
        waited = [stage.value for stage in self.stages if stage.name == "waiting_s"]
        if waited and self.best.placed(self.core) == len(self.core.visits()):
            self.core = narrowed(self._day(), waited[0] // self.core.step_s)

    def _first_bound(self, name: str) -> int:
        """What arithmetic says, before anything is solved."""
        if name == "placed":
            return most_placed(self.core)
        if name == "waiting_s":
            return self.core.step_s * least_waiting(self.core, self.best.placed(self.core))
        if name == "last_end_s" and self.best.placed(self.core) == len(self.core.visits()):
            return self.core.step_s * earliest_last_end(self.core)
        return 0

    def _is_reached(self, name: str, bound: int) -> bool:
        return not is_better(name, bound, value(self.core, self.best, name))

    def _part_for_whole(self, name: str, seconds: float) -> float:
        """How much of a stage's time the whole day at once gets; the rest is for pieces of it."""
        count = len(self.core.visits())
        if count <= FEW:
            return seconds
        part = WHOLE[name] * seconds
        return min(MANY_SHARE[name] * part, MANY_WHOLE_S) if count > MANY else part

    def _whole(self, name: str, seconds: float, bound: int) -> Run:
        """The whole day at once."""
        v = make_model(self._day())
        for stage in self.stages:
            earlier = AIMS[stage.name](v)
            v.model.add(earlier.expression * earlier.unit_s <= earlier.sign * stage.value)
        aim = AIMS[name](v)
        v.model.add(aim.expression * aim.unit_s >= aim.sign * bound)
        add_hint(v, sort_alike(self.core, self.best))
        limits = Limits(seconds, self.workers, self.seed, self.stop)
        tell = self._tell(name, bound)
        return run(v, aim.expression, limits, lambda answer, _, __: tell(answer))

    def _day(self) -> Core:
        """The day; where every visit has a place, they all must keep it."""
        if self.stages and self.best.placed(self.core) == len(self.core.visits()):
            jobs = tuple(replace(job, must=job.prepares is None) for job in self.core.jobs)
            return replace(self.core, jobs=jobs)
        return self.core

    def _take(self, name: str, found: Run, bound: int) -> int:
        """Takes over what a run has found, and returns the better of the two bounds."""
        if found.answer is not None and not is_better(
            name, value(self.core, self.best, name), value(self.core, found.answer, name)
        ):
            self.best = found.answer
        if found.proof is Proof.OPTIMAL:
            return value(self.core, self.best, name)
        if found.bound is None:
            return bound
        unit = 1 if name == "placed" else self.core.step_s
        proven = abs(found.bound) * unit if name == "placed" else found.bound * unit
        return min(bound, proven) if name == "placed" else max(bound, proven)

    def _pieces(self, name: str, seconds: float, bound: int, seed: int) -> None:
        """Neighbours in time by turns, until the time is over or the bound is met."""
        effort = Effort(time.monotonic() + seconds, seconds, self.workers, seed, self.stop)
        tell = self._tell(name, bound)
        if name == "placed":
            self.best = one_more(self.core, self.best, bound, effort, tell)
            return
        if not any(starts is not None for starts in self.best.starts):
            return
        kept = [stage.name for stage in self.stages if stage.name != "placed"]
        improve = less_waiting if name == "waiting_s" else earlier_end
        self.best = improve(self.core, self.best, bound, kept, effort, tell)

    def _part_for_edges(self, name: str, left_s: float) -> float:
        """Time kept for a bound by the edges of the day; 0 where that would be too short."""
        part = min(EDGES[name] * left_s, MOST_EDGES_S[name]) if name in EDGES else 0.0
        return part if part >= LEAST_EDGES_S else 0.0

    def _by_edges(self, name: str, seconds: float, bound: int) -> int:
        """What is lost at the edges of the day says: at most so many visits, or no earlier end than that."""
        limits, reached = Limits(seconds, self.workers, self.seed, self.stop), self.best.placed(self.core)
        if name == "placed":
            bound = most_by_edges(self.core, bound, reached, limits)
        elif reached == len(self.core.visits()):
            low, high = (x // self.core.step_s for x in (bound, value(self.core, self.best, name)))
            bound = self.core.step_s * earliest_proven(self.core, low, high, limits)
        self._tell(name, bound)(self.best)
        return bound

    def _tell(self, name: str, bound: int | None) -> Callable[[Answer], None]:
        def tell(answer: Answer) -> None:
            if self.report:
                reached = value(self.core, answer, name)
                self.report(Progress(name, answer.placed(self.core), reached, bound, self.left_s))

        return tell
