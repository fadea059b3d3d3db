"""What every plan says of itself: its values recomputed, what is proven of them, and the judge's word."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from planner.faults import Fault
from planner.packing.running import Running
from planner.packing.solve import SOLVER
from planner.schedule.model import NotPlaced, Outcome, Reason, Schedule, Stage
from planner.schedule.values import BEST_IS_MOST, stage_values
from planner.schedule.verify import verify
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan


class BrokenPlanError(Exception):
    """The judge refuses a plan that packing has made: a slip of the program, never of the user."""


@dataclass(frozen=True)
class Head:
    """What every plan of one call says of itself."""

    study: Study
    plans: Mapping[str, VisitPlan]
    now: datetime
    version: int

    @property
    def asked(self) -> tuple[Visit, ...]:
        """Every visit that is asked for."""
        return tuple(v for visits in self.study.asked.values() for v in visits)

    def nothing(self, faults: Sequence[Fault]) -> Schedule:
        """A plan without visits: the lengths at this quantile cannot keep a window, whoever comes when."""
        reasons = tuple(Reason(f"{f.message} {f.hint}".strip(), f.place.file, f.place.line) for f in faults)
        words = "its protocol cannot be kept at the planned lengths"
        left = tuple(NotPlaced(v.participant, v.file_id, words) for v in self.asked)
        running = Running(self.study, self.plans, {}, {})
        made = self.schedule(running, {"placed": 0}, reasons, left=left)
        return replace(made, status=Outcome.IMPOSSIBLE if left else Outcome.FEASIBLE)

    def schedule(
        self,
        running: Running,
        bounds: Mapping[str, int],
        reasons: Sequence[Reason] = (),
        *,
        replaces: int | None = None,
        left: Sequence[NotPlaced] = (),
    ) -> Schedule:
        """The plan with its values recomputed; a stage is proven where its bound is reached."""
        visits = sorted(running.visits.values(), key=lambda v: (v.start.timestamp(), v.participant))
        tasks = [task for day in sorted(running.tasks) for task in running.tasks[day]]
        made = Schedule(
            study=self.study.name,
            version=self.version,
            replaces=replaces,
            fingerprint=self.study.fingerprint,
            made=self.now,
            status=Outcome.FEASIBLE,
            asked=len(self.asked),
            stages=(),
            visits=tuple(visits),
            rig_tasks=tuple(tasks),
            not_placed=tuple(left),
            reasons=tuple(reasons),
            solver=SOLVER,
        )
        values = stage_values(made, self.study, self.plans)
        stages = [
            _stage(name, value, bounds[name])
            for name, value in values.items()
            if name in bounds and (name != "last_day" or len(self.study.open) > 1)
        ]
        return replace(made, stages=tuple(stages))


def _stage(name: str, value: int, bound: int) -> Stage:
    beyond = min(bound, value) if name not in BEST_IS_MOST else max(bound, value)
    return Stage(name, value, beyond, Outcome.OPTIMAL if beyond == value else Outcome.FEASIBLE)


def status_of(stages: Sequence[Stage], made: Schedule) -> Outcome:
    placed = next((stage for stage in stages if stage.name == "placed"), None)
    if placed and placed.bound < made.asked:
        return Outcome.IMPOSSIBLE
    proven = all(stage.status is Outcome.OPTIMAL for stage in stages)
    return Outcome.OPTIMAL if proven and made.placed == made.asked else Outcome.FEASIBLE


def judged(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> Schedule:
    """The plan as the judge passes it: a visit that he refuses is left out and named, never handed on.

    BrokenPlanError where what is refused belongs to no visit: a slip of the program.
    """
    refused = verify(schedule, study, plans).broken
    while refused:
        named = {(b.participant, b.visit): b.message for b in refused if b.participant}
        kept = tuple(v for v in schedule.visits if (v.participant, v.file_id) not in named)
        if len(kept) == len(schedule.visits):
            words = "; ".join(f"{b.rule}: {b.message}" for b in refused[:5])
            raise BrokenPlanError(f"the judge refuses the plan: {words}")
        out = [v for v in schedule.visits if v not in kept]
        left = [NotPlaced(v.participant, v.file_id, named[v.participant, v.file_id]) for v in out]
        smaller = replace(schedule, visits=kept, not_placed=(*schedule.not_placed, *left))
        values = stage_values(smaller, study, plans)
        stages = tuple(_stage(s.name, values[s.name], s.bound) for s in schedule.stages)
        schedule = replace(smaller, stages=stages, status=Outcome.FEASIBLE)
        refused = verify(schedule, study, plans).broken
    return schedule
