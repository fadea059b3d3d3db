"""What was found: every effort, time point, deviation and note, with the counts over them.

Rows are named tuples, so that a million of them stay cheap. Instants are in the study's zone;
sizes say their unit. States are words, fit to be printed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple

from planner.adherence.shares import Share
from planner.record.effort import VisitKey


class Fate(StrEnum):
    """What became of an effort: done as asked, beyond what is asked, or not done."""

    MATCHED = "matched"
    EXTRA = "extra"
    MISSING = "missing"


class Kept(StrEnum):
    """How a time point was kept. The last two are in no share."""

    ON_TIME = "on time"
    EARLY = "early"
    LATE = "late"
    NEVER = "never measured"
    NO_ANCHOR = "anchor not recorded"
    STOPPED = "visit stopped"


class Ended(StrEnum):
    """How a block with a stop rule ended. The last two are in no share."""

    AS_SOON = "as soon as it held"
    TOO_EARLY = "too early"
    TOO_LATE = "too late"
    WITHOUT = "without agreement"
    STOPPED = "visit stopped"
    NO_READINGS = "no readings"


class Presence(StrEnum):
    """What the record holds of a visit."""

    RECORDED = "recorded"
    STOPPED = "stopped"
    PASSED_BY = "passed by without a record"
    TO_COME = "still to come"


class EffortLine(NamedTuple):
    """One effort, recorded or missing. `off_s` is happened less planned, on the clock."""

    key: VisitKey
    condition: str | None
    step: str
    at_s: int | None
    manoeuvre: str
    effort: int
    planned: datetime | None
    happened: datetime | None
    off_s: int | None
    rest_before_s: int | None
    fate: Fate


class PointLine(NamedTuple):
    """One time point of one visit; seconds count from its anchor, and are the gap where it lies before it.

    `low_s` and `high_s` are the window, `off_s` is how far outside of it (early is minus; 0 inside).
    """

    key: VisitKey
    condition: str | None
    step: str
    at_s: int
    side: str  # after, before, during
    anchor: str
    anchored: str  # start, end
    manoeuvre: str | None
    low_s: int
    high_s: int
    planned_after_s: int | None
    happened_after_s: int | None
    kept: Kept
    important: bool
    happened: datetime | None
    rigs: tuple[str, ...]
    staff: tuple[str, ...]

    @property
    def on_time(self) -> bool | None:
        """Whether it lies in its window, both ends included; None where that is not judged."""
        if self.kept in (Kept.NO_ANCHOR, Kept.STOPPED):
            return None
        return self.kept is Kept.ON_TIME

    @property
    def off_s(self) -> int | None:
        """Seconds outside the window, early with a minus; None where there is nothing to judge.

        A gap before the anchor that is too wide is early.
        """
        if self.happened_after_s is None:
            return None
        off_s = min(self.happened_after_s - self.low_s, 0) + max(self.happened_after_s - self.high_s, 0)
        return -off_s if self.side == "before" else off_s


class AsPlanned(NamedTuple):
    """Recorded blocks served as planned, otherwise, and those of which the record does not tell."""

    as_planned: int = 0
    other: int = 0
    not_recorded: int = 0

    @property
    def share(self) -> Share:
        """Those as planned, of those that the record tells of."""
        return Share(self.as_planned, self.as_planned + self.other)


class BlockLine(NamedTuple):
    """One recorded block: how many efforts, and how its stop rule ended it (None: it has none).

    `rigs` are the recorded devices; `on_planned_rigs` is None where no device is recorded or planned.
    """

    key: VisitKey
    step: str
    at_s: int | None
    manoeuvre: str
    started: datetime
    efforts: int
    planned_efforts: int | None
    held_after: int | None
    ended: Ended | None
    rigs: tuple[str, ...] = ()
    planned_rigs: tuple[str, ...] = ()
    on_planned_rigs: bool | None = None


class VisitLine(NamedTuple):
    """One visit: what the record holds of it and when it began; `off_s` is its lateness on the clock."""

    key: VisitKey
    condition: str | None
    presence: Presence
    in_plan: bool
    planned: datetime | None
    happened: datetime | None
    off_s: int | None
    stopped: datetime | None


class Deviation(NamedTuple):
    """Done minus planned. `size` is in `unit`, with its sign; None where there is no measure of it."""

    kind: str
    key: VisitKey
    step: str | None
    at_s: int | None
    manoeuvre: str | None
    effort: int | None
    when: datetime | None
    size: int | None
    unit: str
    important: bool
    words: str
    note: str = ""


class Note(NamedTuple):
    """Something in the record that a person should look at; nothing is dropped because of it."""

    kind: str
    key: VisitKey | None
    words: str


class Counts(NamedTuple):
    """Efforts: recorded = matched + extra + refused; `planned` as the plan lists them for recorded visits."""

    planned: int
    recorded: int
    matched: int
    missing: int
    extra: int
    refused: int


class RestLine(NamedTuple):
    """One rest between two efforts of a block; `asked_s` is the least."""

    key: VisitKey
    step: str
    at_s: int | None
    manoeuvre: str
    effort: int  # the one after the rest
    rest_s: int
    asked_s: int


@dataclass(frozen=True)
class Adherence:
    """How closely the record kept to the plan; rows in order of participant, visit and place in the visit."""

    study: str
    plan_version: int | None
    rehearsed: bool
    efforts: tuple[EffortLine, ...]
    time_points: tuple[PointLine, ...]
    blocks: tuple[BlockLine, ...]
    rests: tuple[RestLine, ...]
    visits: tuple[VisitLine, ...]
    deviations: tuple[Deviation, ...]
    notes: tuple[Note, ...]
    counts: Counts
    blind: frozenset[str] = field(default_factory=frozenset)  # ids of visits whose condition is not shown
    rigs: AsPlanned = field(default_factory=AsPlanned)
    staff: AsPlanned | None = None  # None: nobody looked who wrote lines down
    refused_rows: int = 0  # of files, when they were taken in; in none of the counts

    @property
    def kept(self) -> Share:
        """Time points on time, of those judged."""
        judged = [point for point in self.time_points if point.on_time is not None]
        return Share(sum(point.kept is Kept.ON_TIME for point in judged), len(judged))

    def visit_name(self, key: VisitKey, condition: str | None) -> str:
        """`rowing/cold air`, or blind `rowing/2`: the form of efforts files."""
        if key.number is None:
            return key.visit
        return f"{key.visit}/{key.number if key.visit in self.blind or condition is None else condition}"


def count_of(values: Iterable[StrEnum]) -> Mapping[str, int]:
    """How often each value occurs."""
    counts: dict[str, int] = {}
    for value in values:
        counts[value] = counts.get(value, 0) + 1
    return counts
