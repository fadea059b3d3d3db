"""What the record holds of one visit, sorted to the parts of its plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from decimal import Decimal
from typing import Any

import sqlalchemy as sa

from planner.clock import later
from planner.protocol.model import Manoeuvre
from planner.record.drafts import line_of
from planner.record.effort import Value, VisitKey
from planner.record.events import Kind as EventKind
from planner.record.store import Store
from planner.record.tables import content, event
from planner.timing.plan import Kind, PlannedActivity, VisitPlan

_Where = tuple[str, int | None, str | None]


@dataclass(frozen=True, slots=True)
class EffortNow:
    """One effort of the visit; `done` is when it was reported over. `seqs`: its lines in the record."""

    number: int
    started: datetime
    values: tuple[Value, ...]
    done: datetime | None
    note: str
    who: str
    seqs: tuple[int, ...]
    rig: str | None = None

    @property
    def is_under_way(self) -> bool:
        """Whether it has started, is not reported over, and has given no reading."""
        return self.done is None and not self.values

    def acceptable(self) -> dict[str, Decimal]:
        """Its acceptable readings."""
        return {one.reading: one.value for one in self.values if one.acceptable}

    def ended(self, manoeuvre: Manoeuvre) -> datetime:
        """When it was over: as reported, else after the protocol's length."""
        return self.done or later(self.started, manoeuvre.effort_s)


@dataclass(frozen=True, slots=True)
class NoteNow:
    """A note of the visit: when, who, what."""

    at: datetime
    who: str
    text: str
    seq: int


@dataclass(slots=True)
class Happenings:
    """Efforts and marks by place; `mark` changes with every event."""

    efforts: dict[_Where, list[EffortNow]] = field(default_factory=dict)
    marks: dict[tuple[str, int | None, str], datetime] = field(default_factory=dict)
    mark_seqs: dict[tuple[str, int | None, str], int] = field(default_factory=dict)
    mark_rigs: dict[tuple[str, int | None], str] = field(default_factory=dict)  # by step and time point
    notes: tuple[NoteNow, ...] = ()
    stopped: datetime | None = None
    not_now: datetime | None = None
    mark: str = "0"

    def efforts_of(self, activity: PlannedActivity) -> tuple[EffortNow, ...]:
        """The efforts of that block, by number."""
        found = self.efforts.get((activity.step, activity.at_s, activity.manoeuvre), [])
        return tuple(sorted(found, key=lambda one: one.number))

    def first_values(self, manoeuvre: str) -> Mapping[str, Decimal]:
        """The first acceptable value of each reading of that manoeuvre in this visit."""
        all_of_it = [one for where, group in self.efforts.items() if where[2] == manoeuvre for one in group]
        first: dict[str, Decimal] = {}
        for effort in sorted(all_of_it, key=lambda one: one.started.timestamp()):
            for name, value in effort.acceptable().items():
                first.setdefault(name, value)
        return first

    def begun(self, activity: PlannedActivity) -> datetime | None:
        """When the first thing of that part was recorded to happen."""
        if activity.kind is Kind.BLOCK:
            efforts = self.efforts_of(activity)
            return efforts[0].started if efforts else None
        start = self.marks.get((activity.step, activity.at_s, "start"))
        return start or self.marks.get((activity.step, activity.at_s, "end"))

    def started(self, activity: PlannedActivity) -> datetime | None:
        """The start of the part; of a block, of its preparing, which is before its first effort."""
        if activity.kind is not Kind.BLOCK:
            return self.marks.get((activity.step, activity.at_s, "start"))
        first = self.begun(activity)
        return later(first, -activity.prepare_s) if first else None

    def ended(self, plan: VisitPlan, activity: PlannedActivity) -> datetime | None:
        """The recorded end; a block's is that of its last effort, once it is over."""
        if activity.kind is not Kind.BLOCK:
            return self.marks.get((activity.step, activity.at_s, "end"))
        efforts = self.efforts_of(activity)
        if not efforts or efforts[-1].is_under_way or activity.manoeuvre is None:
            return None
        return efforts[-1].ended(plan.protocol.manoeuvres[activity.manoeuvre])


def read_happenings(store: Store, key: VisitKey) -> Happenings:
    """What the record holds of that visit, corrections applied."""
    found = Happenings()
    over = _others(store, key, found)
    rows = [row for row in store.rows(key.participant, key.visit) if row.number == key.number]
    groups: dict[tuple[_Where, int], list[Any]] = {}
    for row in rows:
        if row.kind == EventKind.MARK:
            _mark(found, row, store.study.zone)
        else:
            groups.setdefault(((row.step, row.at_s, row.manoeuvre), row.effort), []).append(row)
    for (where, number), group in groups.items():
        effort = _effort(group, number, over.get((*where, number)), store.study.zone)
        found.efforts.setdefault(where, []).append(effort)
    return found


def newest(store: Store, key: VisitKey) -> str:
    """The hash of the last event that touches that visit, "" where there is none: a cheap look for news."""
    number = event.c.number.is_(None) if key.number is None else event.c.number == key.number
    its_own = sa.and_(event.c.visit == key.visit, number)
    removal = event.c.kind == str(EventKind.REMOVAL)
    of_it = event.c.participant == key.participant, sa.or_(its_own, removal)
    # The sum keeps a database from walking back along all events until it meets one of this visit.
    last = sa.select(sa.func.max(event.c.seq + 0)).where(*of_it).scalar_subquery()
    found = store.read(sa.select(event.c.hash).where(event.c.seq == last))
    return str(found[0].hash) if found else ""


def _mark(found: Happenings, row: Any, zone: tzinfo) -> None:
    at = line_of(row, zone).started
    if row.rig:
        found.mark_rigs[(row.step, row.at_s)] = row.rig
    if row.reading == "stopped":
        found.stopped = at
    found.marks[(row.step, row.at_s, row.reading)] = at
    found.mark_seqs[(row.step, row.at_s, row.reading)] = row.seq


def _effort(group: list[Any], number: int, done: datetime | None, zone: tzinfo) -> EffortNow:
    lines = [line_of(row, zone) for row in group]
    values = tuple(
        Value(line.reading, line.value, line.unit, line.acceptable)
        for line in lines
        if line.value is not None
    )
    notes = "; ".join(dict.fromkeys(line.note for line in lines if line.note))
    seqs = tuple(row.seq for row in group)
    if done and done.timestamp() < lines[0].started.timestamp():
        done = None  # the end of an effort of this number that was taken back
    rig = next((line.rig for line in lines if line.rig), None)
    return EffortNow(number, lines[0].started, values, done, notes, group[0].who, seqs, rig)


def _others(store: Store, key: VisitKey, found: Happenings) -> dict[tuple[Any, ...], datetime]:
    """Notes and the like into `found`; the ends of efforts by place and number."""
    number = event.c.number.is_(None) if key.number is None else event.c.number == key.number
    query = (
        sa.select(event, content.c.note)
        .outerjoin(content, content.c.seq == event.c.seq)
        .where(event.c.participant == key.participant, event.c.visit == key.visit, number)
        .order_by(event.c.seq)
    )
    over: dict[tuple[Any, ...], datetime] = {}
    notes: list[NoteNow] = []
    for row in store.read(query):
        found.mark = str(row.seq)
        found.not_now = None
        moment = datetime.fromisoformat(row.started).astimezone(store.study.zone) if row.started else None
        if row.kind == EventKind.DONE and moment:
            over[(row.step, row.at_s, row.manoeuvre, row.effort)] = moment
        elif row.kind == EventKind.NOTE and moment:
            notes.append(NoteNow(moment, row.who, row.note or "", row.seq))
        elif row.kind == EventKind.NOT_NOW:
            found.not_now = moment
    found.notes = tuple(notes)
    return over
