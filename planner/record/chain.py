"""Is the record whole? Finds changed, missing and moved events, also where another tool wrote to it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import sqlalchemy as sa

from planner.record.caught import CAUGHT
from planner.record.events import FIRST_HASH, Event, Kind, content_digest, event_hash
from planner.record.store import Store
from planner.record.tables import content, event, event_of, events_query, removed
from planner.record.troubles import in_words

_AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that does not fit; `seq` is the event's number, None where it is about the whole."""

    seq: int | None
    message: str


@dataclass(slots=True)
class _Walk:
    """Where the walk along the chain has come to."""

    seq: int = 0
    hash: str = FIRST_HASH
    blanked: set[int] = field(default_factory=set)  # events whose content is gone
    allowed: set[int] = field(default_factory=set)  # events that a removal names
    head_seen: str | None = None


def check(store: Store) -> tuple[Problem, ...]:
    """Every problem of the chain, in order; empty where the record is whole."""
    walk = _Walk()
    noted = noted_head(store)
    problems = [problem for row in _rows(store) for problem in _event(walk, row, noted)]
    problems += _end(walk, noted)
    problems += [
        Problem(seq, f"the content of event {seq} is gone, and no removal names it")
        for seq in sorted(walk.blanked - walk.allowed)
    ]
    return tuple(problems + list(_orphans(store)))


def noted_head(store: Store) -> tuple[int, str] | None:
    """How far the record had come, as noted beside it on this machine; None where nothing is noted."""
    try:
        seq, digest = store.writer.head.read_text("ascii").split()
        return int(seq), digest
    except (OSError, ValueError):
        return None


def _rows(store: Store) -> Iterator[Any]:
    """All events, in order; rows whose number is no number cannot exist, the column forbids it."""
    try:
        with store.engine.connect().execution_options(testday_reads=True) as connection:
            last = -(2**62)
            while rows := connection.execute(events_query().where(event.c.seq > last).limit(_AT_ONCE)).all():
                yield from rows
                last = rows[-1].seq
    except CAUGHT as error:
        raise in_words(error) from error


def _event(walk: _Walk, row: Any, noted: tuple[int, str] | None) -> Iterator[Problem]:
    found = event_of(row)
    seq = found.seq
    if seq != walk.seq + 1:
        first, last = walk.seq + 1, seq - 1
        which = f"event {first} is" if first == last else f"events {first} to {last} are"
        yield Problem(
            seq, f"{which} missing before event {seq}" if first <= last else f"event {seq} has no place"
        )
    elif found.hash_before != walk.hash:
        yield Problem(
            seq, f"event {seq} does not follow the event before it: one was changed, put in or moved"
        )
    if event_hash(seq, found.draft, found.server_clock, found.digest, found.hash_before) != found.hash:
        yield Problem(seq, f"event {seq} was changed or moved")
    yield from _content(walk, row, found)
    if noted and noted[0] == seq and noted[1] != found.hash:
        yield Problem(seq, f"event {seq} is not the one that was recorded under this number")
    walk.seq, walk.hash = seq, found.hash


def _content(walk: _Walk, row: Any, found: Event) -> Iterator[Problem]:
    if row.salt is None:
        walk.blanked.add(found.seq)
        if any(
            part is not None for part in (row.value, row.unit, row.acceptable, row.note, row.reason, row.raw)
        ):
            yield Problem(found.seq, f"the content of event {found.seq} was changed")
        return
    if content_digest(row.salt, found.draft.content) != found.digest:
        yield Problem(found.seq, f"the content of event {found.seq} was changed")
    elif found.draft.kind is Kind.REMOVAL:
        walk.allowed |= set(json.loads(found.draft.content.raw)["events"])


def _end(walk: _Walk, noted: tuple[int, str] | None) -> Iterator[Problem]:
    if noted and noted[0] > walk.seq:
        first, last = walk.seq + 1, noted[0]
        which = f"event {first} is" if first == last else f"events {first} to {last} are"
        yield Problem(None, f"{which} missing at the end: they were recorded on this machine")


def _orphans(store: Store) -> Iterator[Problem]:
    """Content and removals without an event."""
    for table, what in ((content, "content"), (removed, "a removal")):
        query = (
            sa.select(table.c.seq).outerjoin(event, event.c.seq == table.c.seq).where(event.c.seq.is_(None))
        )
        for row in store.read(query):
            yield Problem(row.seq, f"there is {what} for event {row.seq}, which is missing")
