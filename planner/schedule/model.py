"""Who is where, when; and whether that is proven, found or impossible. It knows no solver.

Instants are zone-aware, whole seconds, in the study's zone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum
from functools import cached_property

from planner.clock import Interval
from planner.timing.learned import Learned


class Outcome(StrEnum):
    """How sure a plan, or one stage of its making, is."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    IMPOSSIBLE = "impossible"


@dataclass(frozen=True, slots=True)
class PlacedWatch:
    """Who (role -> person) stays with the participant from the end of the activity until `end`."""

    staff: Mapping[str, str]
    end: datetime


@dataclass(frozen=True, slots=True)
class Activity:
    """One task, bout, block or rest on the clock.

    `start` is the start of preparing, `end` the end of the last effort, `rig_free` the end of
    clearing. `rigs` are ids, in the order of the classes that the protocol names. `clear_staff` are
    people of clearing roles that the block itself does not have.
    """

    step: str
    at_s: int | None
    manoeuvre: str | None
    rigs: tuple[str, ...]
    staff: Mapping[str, str]  # role -> person
    start: datetime
    first_effort: datetime | None
    end: datetime
    rig_free: datetime
    planned_efforts: int | None
    watch: PlacedWatch | None = None
    clear_staff: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class PlacedVisit:
    """One participant's visit; activities by start. `number` counts visits of its kind from 1.

    Without slots, so that start and end are worked out once: they are asked for at every turn.
    """

    participant: str
    visit: str  # the kind's id
    number: int | None
    condition: str | None
    activities: tuple[Activity, ...]

    @cached_property
    def start(self) -> datetime:
        """The first start."""
        return min((a.start for a in self.activities), key=datetime.timestamp)

    @cached_property
    def end(self) -> datetime:
        """The last end; clearing is not part of it."""
        return max((a.end for a in self.activities), key=datetime.timestamp)

    @cached_property
    def date(self) -> date:
        """The local date."""
        return self.start.date()

    @property
    def file_id(self) -> str:
        """`rowing-2` with conditions, blind or not; else the kind's id: the form in file names."""
        return self.visit if self.number is None else f"{self.visit}-{self.number}"


@dataclass(frozen=True, slots=True)
class RigTask:
    """A rig's task before its first use of a day."""

    rig: str
    staff: Mapping[str, str]
    start: datetime
    end: datetime

    @property
    def interval(self) -> Interval:
        """From start to end."""
        return Interval(self.start, self.end)


@dataclass(frozen=True, slots=True)
class Stage:
    """One objective: its value, the proven bound on it, and how sure it is."""

    name: str
    value: int
    bound: int
    status: Outcome


@dataclass(frozen=True, slots=True)
class NotPlaced:
    """A visit that is asked for and has no place, and why in words."""

    participant: str
    visit: str  # file_id
    message: str


@dataclass(frozen=True, slots=True)
class Reason:
    """One demand of a conflict, or one relaxation that would mend it, with its place in the files."""

    message: str
    file: str | None = None
    line: int | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """One difference between two plans, in words and as values."""

    participant: str | None
    visit: str | None  # file_id
    message: str
    kind: str = "moved"  # moved, other rig, other person, dropped, added, window missed
    step: str | None = None
    at_s: int | None = None
    manoeuvre: str | None = None
    before: str | None = None
    after: str | None = None
    since: int | None = None  # the version that named it first, where it is no news of this plan


@dataclass(frozen=True, slots=True)
class Broken:
    """One broken rule (or warning) in words; `rule` is a short name for programs, `visit` a file_id."""

    rule: str
    participant: str | None
    visit: str | None
    message: str

    def as_json(self) -> dict[str, object]:
        """The four keys fixed by the formats."""
        return {
            "rule": self.rule,
            "participant": self.participant,
            "visit": self.visit,
            "message": self.message,
        }

    def __str__(self) -> str:
        return self.message


@dataclass(frozen=True, slots=True)
class Schedule:
    """A plan: all placed visits, what was asked, what could not be placed and why.

    `made` is when; `fingerprint` that of the study's files; `replaces` the version before, if any.
    """

    study: str
    version: int
    replaces: int | None
    fingerprint: str
    made: datetime
    status: Outcome
    asked: int
    stages: tuple[Stage, ...]
    visits: tuple[PlacedVisit, ...]
    rig_tasks: tuple[RigTask, ...] = ()
    not_placed: tuple[NotPlaced, ...] = ()
    reasons: tuple[Reason, ...] = ()
    changes: tuple[Change, ...] = ()
    solver: str = ""
    learned: Learned | None = None  # what the record had taught when it was made; None: as the protocols say
    misread: tuple[Broken, ...] = ()  # what a plan file says of itself and does not hold, such as `placed`

    @property
    def placed(self) -> int:
        """Number of placed visits."""
        return len(self.visits)

    def on(self, day: date) -> tuple[PlacedVisit, ...]:
        """The visits of that date, by start."""
        return tuple(sorted((v for v in self.visits if v.date == day), key=lambda v: v.start))

    @property
    def dates(self) -> tuple[date, ...]:
        """The dates with visits, in order."""
        return tuple(sorted({visit.date for visit in self.visits}))
