"""Inside one transaction: which drafts are new, already there or refused; new ones become events."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal, NamedTuple

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from planner.record.events import FIRST_HASH, LINES, Content, Draft, Event, Kind, seal, utc_text
from planner.record.known import Known
from planner.record.recall import HEAD, recall
from planner.record.tables import content, content_row, event, event_row
from planner.record.trips import put

SET_BACK_S = 2.0
_EVENTS, _CONTENTS = sa.insert(event), sa.insert(content)


class Outcome(NamedTuple):
    """What became of a draft; `seq` is its event's number, or that of the event it repeats."""

    what: Literal["added", "already there", "refused"]
    seq: int | None
    message: str = ""


@dataclass(frozen=True, slots=True)
class Request:
    """Drafts sent together; `whole`: where one is refused, none is recorded."""

    drafts: tuple[Draft, ...]
    whole: bool = False


@dataclass(slots=True)
class Head:
    """The last event's number, hash and clock."""

    seq: int = 0
    hash: str = FIRST_HASH
    server_clock: str = ""


@dataclass(slots=True)
class Batch:
    """The events made in one transaction."""

    head: Head
    events: list[Event] = field(default_factory=list)

    def add(self, draft: Draft, now: str) -> int:
        """Chain the draft to what stands before it; its number."""
        made = seal(self.head.seq + 1, draft, now, self.head.hash)
        self.head = Head(made.seq, made.hash, now)
        self.events.append(made)
        return made.seq


def read_head(connection: Connection) -> Head:
    """The last event; number 0 where there is none."""
    row = connection.execute(HEAD).first()
    return Head(row.seq, row.hash, row.server_clock) if row else Head()


def append(
    connection: Connection, requests: Sequence[Request], now: datetime, *, last: bool = True
) -> tuple[list[tuple[Outcome, ...]], Head | None]:
    """Record the requests in order: the outcomes of each, and the new head where anything was added.

    The caller holds this machine's writer's lock; on PostgreSQL the turn among machines is taken here.
    `last` as in `put`.
    """
    newest, known = recall(connection, [draft for request in requests for draft in request.drafts])
    batch = Batch(Head(*newest) if newest else Head())
    clock = utc_text(now)
    _note_clock_set_back(batch, clock)
    outcomes = [_request(batch, known, request, clock) for request in requests]
    if not any(one.what == "added" for made in outcomes for one in made):
        return outcomes, None
    insert(connection, batch.events, last=last)
    return outcomes, batch.head


def insert(connection: Connection, events: Iterable[Event], *, last: bool = False) -> None:
    """Write the rows of these events; `last` as in `put`."""
    made = list(events)
    rows = (_EVENTS, [event_row(one) for one in made]), (_CONTENTS, [content_row(one) for one in made])
    put(connection, rows, last=last)


def _request(batch: Batch, known: Known, request: Request, clock: str) -> tuple[Outcome, ...]:
    if request.whole:
        tried = _each(Batch(batch.head), known.excerpt(request.drafts), request, clock)
        if refused := [one for one in tried if one.what == "refused"]:
            return tuple(refused[0] for _ in tried)
    return _each(batch, known, request, clock)


def _each(batch: Batch, known: Known, request: Request, clock: str) -> tuple[Outcome, ...]:
    return tuple(_one(batch, known, draft, clock) for draft in request.drafts)


def _one(batch: Batch, known: Known, draft: Draft, clock: str) -> Outcome:
    draft = known.fit_to_keep(draft)
    if (seq := known.token(draft.token)) is not None:
        return Outcome("already there", seq)
    if draft.kind in LINES:
        found = known.judge(draft)
        if found is not None:
            return Outcome(*found)
    elif (reason := known.objection(draft)) is not None:
        return Outcome("refused", None, reason)
    elif (same := known.same(draft)) is not None:
        return Outcome("already there", same)
    seq = batch.add(draft, clock)
    known.learn(seq, draft)
    return Outcome("added", seq)


def _note_clock_set_back(batch: Batch, clock: str) -> None:
    """A clock that runs behind the last event is an event itself: order is by number, never by clock."""
    last = batch.head.server_clock
    if not last:
        return
    behind_s = (datetime.fromisoformat(last) - datetime.fromisoformat(clock)).total_seconds()
    if behind_s > SET_BACK_S:
        words = f"this machine's clock is {behind_s:.0f} s behind the last event"
        batch.add(Draft(Kind.CLOCK, content=Content(note=words)), clock)
