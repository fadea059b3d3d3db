"""The stages of a day's search: each starts from the best plan so far and can only make it better."""

from __future__ import annotations

import time
from dataclasses import replace

from planner.packing.core import Answer, Core
from planner.packing.hints import add_hint
from planner.packing.model import make_model, sort_alike
from planner.packing.objective import AIMS, value
from planner.packing.progress import Progress, Report, Stop
from planner.packing.solve import Limits, Proof, Run, run
from planner.schedule.model import Outcome, Stage

SHARE = 0.6  # of the time left, for a stage that others follow


class Search:
    """The best plan so far, and the stages that have been gone through."""

    def __init__(
        self, core: Core, *, seconds: float, workers: int, seed: int, report: Report | None, stop: Stop | None
    ) -> None:
        self.core, self.workers, self.seed, self.report, self.stop = core, workers, seed, report, stop
        self.began, self.seconds = time.monotonic(), seconds
        self.best = Answer((None,) * len(core.jobs), (None,) * len(core.jobs))
        self.stages: list[Stage] = []
        self.reached: list[tuple[str, int]] = []
        self.first_s = 0.0
        self.status = Outcome.FEASIBLE

    @property
    def left_s(self) -> float:
        """Seconds that remain."""
        return max(0.0, self.seconds - (time.monotonic() - self.began))

    def start(self, answer: Answer) -> None:
        """Takes over a first plan."""
        self.best = sort_alike(self.core, answer)
        self.first_s = time.monotonic() - self.began

    def improve(self, name: str, more: int) -> None:
        """Goes through one stage; `more` say how many follow."""
        core = self._core()
        v = make_model(core)
        for earlier, reached in self.reached:
            aim = AIMS[earlier](v)
            v.model.add(aim.expression * aim.unit_s <= aim.sign * reached)
        aim = AIMS[name](v)
        add_hint(v, self.best)
        limits = Limits(self.left_s * (SHARE if more else 1.0), self.workers, self.seed, self.stop)
        found = run(v, aim.expression, limits, self._tell(name, aim.sign * aim.unit_s))
        self._take(name, found, aim.sign * aim.unit_s)

    def _core(self) -> Core:
        """The day; where every visit has a place, they all must keep it."""
        if self.reached and self.best.placed(self.core) == len(self.core.visits()):
            jobs = tuple(replace(job, must=job.prepares is None) for job in self.core.jobs)
            return replace(self.core, jobs=jobs)
        return self.core

    def _take(self, name: str, found: Run, unit: int) -> None:
        before = value(self.core, self.best, name)
        if found.answer is not None and unit * (value(self.core, found.answer, name) - before) <= 0:
            self.best = found.answer
        reached = value(self.core, self.best, name)
        bound = reached if found.bound is None else unit * found.bound
        proven = found.proof is Proof.OPTIMAL
        self.stages.append(
            Stage(
                name, reached, reached if proven else bound, Outcome.OPTIMAL if proven else Outcome.FEASIBLE
            )
        )
        self.reached.append((name, reached))

    def _tell(self, name: str, unit: int):  # type: ignore[no-untyped-def]
        def tell(answer: Answer, best: int, bound: int) -> None:
            if self.report:
                self.report(Progress(name, answer.placed(self.core), unit * best, unit * bound, self.left_s))

        return tell
