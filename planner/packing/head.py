"""What every plan says of itself: its values recomputed, what is proven of them, and the judge's word."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from planner.faults import Fault
from planner.packing.left_out import and_behind, last_instead
from planner.packing.problem import VisitKey, key
from planner.packing.running import Running
from planner.packing.solve import SOLVER
from planner.schedule.as_it_stands import CLAIMS
from planner.schedule.model import NotPlaced, Outcome, PlacedVisit, Reason, RigTask, Schedule, Stage
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


def judged(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan], *, day: date | None = None
) -> Schedule:
    """The plan as the judge passes it: a visit that he refuses is left out and named, never handed on.

    Of a participant the last visit goes first, until nothing is refused: nobody comes unpractised. `day`:
    the last one of that day, for other days stay as they are.
    A check before first use that cannot be done leaves the plan with the visits that need its rig that day.
    BrokenPlanError where what is refused belongs to neither: a slip of the program.
    """
    refused = verify(schedule, study, plans).broken
    while refused:
        named = {(b.participant or "", b.visit or ""): b.message for b in refused if b.participant}
        among = schedule.visits if day is None else schedule.on(day)
        smaller = _without_visits(schedule, last_instead(named, among, study), study, plans)
        if len(smaller.visits) == len(schedule.visits):
            smaller = _without_checks(schedule, study, plans, among)
        if smaller.visits == schedule.visits and smaller.rig_tasks == schedule.rig_tasks:
            words = "; ".join(f"{b.rule}: {b.message}" for b in refused[:5])
            raise BrokenPlanError(f"the judge refuses the plan: {words}")
        schedule = smaller
        refused = verify(schedule, study, plans).broken
    return schedule


def _without_visits(
    schedule: Schedule, named: Mapping[VisitKey, str], study: Study, plans: Mapping[str, VisitPlan]
) -> Schedule:
    """The plan without these visits, each named as not placed with what is said of it."""
    kept = tuple(visit for visit in schedule.visits if key(visit) not in named)
    left = [NotPlaced(*key(v), named[key(v)]) for v in schedule.visits if key(v) in named]
    smaller = replace(schedule, visits=kept, not_placed=(*schedule.not_placed, *left))
    values = stage_values(smaller, study, plans)
    stages = tuple(_stage(s.name, values[s.name], s.bound) for s in schedule.stages)
    return replace(smaller, stages=stages, status=Outcome.FEASIBLE)


def _without_checks(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan], among: Sequence[PlacedVisit]
) -> Schedule:
    """The plan without checks that cannot be done, and without the visits that need such a rig that day.

    Visits `among` these that come after one of them go as well.
    """
    refused = _refused_checks(schedule, study, plans)
    gone = [task for task, _ in refused]
    kept = tuple(task for task in schedule.rig_tasks if task not in gone)
    named = and_behind(dict(_need_of(refused, schedule)), among, study)
    return _without_visits(replace(schedule, rig_tasks=kept), named, study, plans)


def cannot_stay(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> Mapping[VisitKey, str]:
    """Each visit that the judge refuses, or whose rig cannot be checked, and his words.

    Those that come after it on the same day cannot stay without it.
    """
    broken = verify(schedule, study, plans).broken
    if not broken:
        return {}
    named = {(b.participant or "", b.visit or ""): b.message for b in broken if b.participant}
    named = {**dict(_need_of(_refused_checks(schedule, study, plans), schedule)), **named}
    for day in {visit.date for visit in schedule.visits if key(visit) in named}:
        visits = schedule.on(day)
        gone = {name: named[name] for name in map(key, visits) if name in named}
        named.update(and_behind(gone, visits, study))
    return named


def _need_of(refused: Sequence[tuple[RigTask, str]], schedule: Schedule) -> Iterator[tuple[VisitKey, str]]:
    """The visits that need a rig on a day when it cannot be checked, and why it cannot."""
    rigs = {(task.rig, task.start.date()): f"{task.rig} cannot be used: {why}" for task, why in refused}
    for visit in schedule.visits:
        for rig in (rig for activity in visit.activities for rig in activity.rigs):
            if (rig, visit.date) in rigs:
                yield key(visit), rigs[rig, visit.date]


def _refused_checks(
    schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]
) -> tuple[tuple[RigTask, str], ...]:
    """Each check before first use that the judge refuses beside the others of its day, and his words."""
    kept: dict[date, tuple[RigTask, ...]] = {}
    refused = []
    for task in schedule.rig_tasks:
        beside = (*kept.get(task.start.date(), ()), task)
        broken = verify(replace(schedule, visits=(), rig_tasks=beside), study, plans).broken
        why = next((b.message for b in broken if b.participant is None and b.rule not in CLAIMS), None)
        if why is None:
            kept[task.start.date()] = beside
        else:
            refused.append((task, why))
    return tuple(refused)
