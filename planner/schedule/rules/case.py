"""What the judge looks at: the plan beside what the study asks for, matched once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property, wraps
from itertools import permutations
from typing import Any, TypeVar

from planner.protocol.model import Protocol
from planner.schedule.beside_asked import matched
from planner.schedule.model import Activity, Broken, PlacedVisit, Schedule
from planner.study.model import Study, Visit
from planner.timing.plan import PlannedActivity, VisitPlan

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Pair:
    """A planned activity and how it was placed."""

    planned: PlannedActivity
    placed: Activity

    @property
    def words(self) -> str:
        """`fvc of after (+2 min) at 10:05`."""
        return f"{activity_words(self.placed)} at {clock(self.placed.start)}"


@dataclass(frozen=True, eq=False)
class Judged:
    """One placed visit, the asked one that it is (None: nobody asked), and its activities by index."""

    placed: PlacedVisit
    asked: Visit | None
    plan: VisitPlan | None
    by_index: Mapping[int, Activity]

    @property
    def name(self) -> str:
        """`ROW-01, rowing-2`: never the condition."""
        return f"{self.placed.participant}, {self.placed.file_id}"

    @property
    def protocol(self) -> Protocol | None:
        """The visit's protocol, None where nobody asked for the visit."""
        return self.plan.protocol if self.plan else None

    def pairs(self) -> Iterator[Pair]:
        """The activities that are both planned and placed."""
        if self.plan:
            for planned in self.plan.activities:
                if planned.index in self.by_index:
                    yield Pair(planned, self.by_index[planned.index])

    def broken(self, rule: str, message: str) -> Broken:
        """The rule as broken by this visit; the message gets the visit's name and date in front."""
        words = f"{self.name} on {self.placed.date}: {message}"
        return Broken(rule, self.placed.participant, self.placed.file_id, words)


@dataclass(frozen=True, eq=False)
class Case:
    """A plan before the judge. `memo` holds what several rules look at, worked out once."""

    schedule: Schedule
    study: Study
    plans: Mapping[str, VisitPlan]
    visits: tuple[Judged, ...]
    memo: dict[str, Any] = field(default_factory=dict)

    @cached_property
    def classes(self) -> Mapping[str, tuple[str, ...]]:
        """The classes of each rig."""
        return {rig.id: rig.classes for rig in self.study.rigs}

    @cached_property
    def roles(self) -> Mapping[str, tuple[str, ...]]:
        """The roles of each person."""
        return {person.id: person.roles for person in self.study.people}


def once_a_case(make: Callable[[Case], T]) -> Callable[[Case], T]:
    """Lets a function of a case be worked out once for each."""

    @wraps(make)
    def get(case: Case) -> T:
        if make.__name__ not in case.memo:
            case.memo[make.__name__] = make(case)
        return case.memo[make.__name__]  # type: ignore[no-any-return]

    return get


def case_of(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> Case:
    """The plan with every visit matched to what is asked for."""
    asked = {
        (visit.participant, visit.kind, visit.number): visit for own in study.asked.values() for visit in own
    }
    judged = []
    for placed in schedule.visits:
        visit = asked.get((placed.participant, placed.visit, placed.number))
        plan = plans.get(visit.protocol) if visit else None
        judged.append(Judged(placed, visit, plan, matched(placed, plan) if plan else {}))
    return Case(schedule, study, plans, tuple(judged))


def second(moment: datetime) -> int:
    """The instant as whole seconds: comparing these is right also over a change of clocks."""
    return round(moment.timestamp())


def clock(moment: datetime) -> str:
    """The local clock time, with seconds where there are some."""
    return f"{moment:%H:%M:%S}" if moment.second else f"{moment:%H:%M}"


def activity_words(activity: Activity) -> str:
    """`fvc of step after (+10 min)`, or `step row`."""
    step = f"step {activity.step}"
    at = "" if activity.at_s is None else f" ({_minutes(activity.at_s)})"
    return f"{activity.manoeuvre} of {step}{at}" if activity.manoeuvre else f"{step}{at}"


def _minutes(seconds: int) -> str:
    return f"{seconds // 60} min" if seconds % 60 == 0 else f"{seconds} s"


def span_words(seconds: int) -> str:
    """`2 min 30 s`."""
    minutes, left = divmod(abs(seconds), 60)
    parts = [f"{minutes} min"] * bool(minutes) + [f"{left} s"] * bool(left)
    return " ".join(parts) or "0 s"


def rig_by_class(activity: Activity, classes: tuple[str, ...], case: Case) -> dict[str, str] | None:
    """Which of the activity's rigs serves as which class; None where they do not fit one to one."""
    known = case.classes
    if len(activity.rigs) != len(classes) or len(set(activity.rigs)) != len(classes):
        return None
    for order in permutations(activity.rigs):
        if all(name in known.get(rig, ()) for name, rig in zip(classes, order, strict=True)):
            return dict(zip(classes, order, strict=True))
    return None
