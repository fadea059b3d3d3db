"""The visit in hand: what is done, what comes next and when, from the record and the plan of one visit."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from planner.record.effort import Value, VisitKey
from planner.record.happenings import Happenings, NoteNow, read_happenings
from planner.record.parts import Part, Status, parts_of
from planner.record.risk import Risk, risks
from planner.record.store import Store
from planner.schedule.model import PlacedVisit
from planner.study.model import Visit
from planner.timing.plan import VisitPlan


@dataclass(frozen=True, slots=True)
class VisitNow:
    """Everything the page shows of one visit. `current` is the part in hand, `around` the bout around it."""

    key: VisitKey
    rehearsed: bool
    now: datetime
    parts: tuple[Part, ...]
    current: int | None
    around: int | None
    stopped: datetime | None
    not_now: datetime | None  # the participant was not ready at this moment, and nothing has happened since
    at_risk: tuple[Risk, ...]
    notes: tuple[NoteNow, ...]
    mark: str = field(repr=False)  # changes with every event of the visit

    @property
    def next_due(self) -> Part | None:
        """The part to come whose window closes first, of those whose anchor is recorded."""
        waiting = [part for part in self.parts if part.due and part.status is Status.TO_COME]
        return min(waiting, key=_closes, default=None)

    @property
    def rest_ends(self) -> datetime | None:
        """When the rest in the current block ends, if there is one to keep."""
        return None if self.current is None else self.parts[self.current].rest_ends

    def token(self, deed: str) -> str:
        """The token of a button as shown now: a double tap, or a second tab, sends the same."""
        key = self.key
        words = f"{key.participant}/{key.visit}/{key.number}/{self.mark}/{deed}"
        return hashlib.sha256(words.encode()).hexdigest()[:32]

    def words(self) -> str:
        """One sentence about the moment, for the head of the page."""
        if self.stopped:
            return f"Stopped at {self.stopped:%H:%M}."
        if self.current is None:
            return "All parts of this visit are done."
        return _part_words(self.parts[self.current], self.now)


def _closes(part: Part) -> float:
    return part.due.not_after.timestamp() if part.due else float("inf")


def _part_words(part: Part, now: datetime) -> str:
    if part.in_hand is not None:
        return f"{part.title}: effort {part.in_hand} is under way."
    if part.rest_ends and part.rest_ends.timestamp() > now.timestamp():
        return f"{part.title}: rest until {part.rest_ends:%H:%M:%S}."
    if part.rest_ends or (part.may_start_effort and part.efforts):
        return f"{part.title}: effort {part.next_effort} may start when the participant is ready."
    if part.due and part.status is Status.TO_COME:
        return f"{part.title}: {part.due.words(now)}"
    return f"{part.title}: {part.status}."


def visit_now(
    store: Store,
    visit: Visit,
    plan: VisitPlan,
    placed: PlacedVisit | None,
    *,
    now: datetime,
    happened: Happenings | None = None,
) -> VisitNow:
    """The visit as the record has it; `placed` is its place in the plan in force, if any.

    `happened` spares reading the record where it was read already and nothing has come since.
    """
    key = VisitKey(visit.participant, visit.kind, visit.number)
    happened = read_happenings(store, key) if happened is None else happened
    parts = parts_of(plan, placed, happened, now)
    current, around = _current(parts)
    at_risk = () if happened.stopped else risks(plan, parts, now)
    return VisitNow(
        key, store.rehearsed, now, parts, current, around, happened.stopped, happened.not_now, at_risk,
        happened.notes, happened.mark,
    )  # fmt: skip


def _current(parts: Sequence[Part]) -> tuple[int | None, int | None]:
    """The part in hand: what has begun and is not over, else the first to come; with the bout around it."""
    for part in parts:
        if part.is_block and part.status is Status.NOW:
            return part.index, part.activity.inside
    under_way = [part for part in parts if part.status is Status.NOW]
    if under_way:
        bout = under_way[0]
        inside = [p for p in parts if p.activity.inside == bout.index and p.status is Status.TO_COME]
        return (inside[0].index, bout.index) if inside else (bout.index, None)
    to_come = [part for part in parts if part.status is Status.TO_COME and part.activity.inside is None]
    return (to_come[0].index if to_come else None), None


def value_words(value: Value) -> str:
    """A reading as the page shows it."""
    return f"{value.reading} {value.value:f} {value.unit}" + ("" if value.acceptable else " (not acceptable)")
