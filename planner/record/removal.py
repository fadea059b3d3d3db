"""A participant's withdrawal with erasure: readings, notes and refused rows are blanked, the chain holds.

The one exception from "nothing is changed". The event's place, times and hash stay; what was said is
gone from the database file too. It takes a coordinator and a reason, and is an event itself. Backups
cannot be reached from here: they are named, so that a person can see to them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from planner.record.access import Actor, Right, refuse_unless
from planner.record.append import Batch, insert, read_head
from planner.record.caught import CAUGHT
from planner.record.engine import postgres_engine, schema_name
from planner.record.events import Content, Draft, Kind, utc_text
from planner.record.store import Store
from planner.record.tables import content, event, removed
from planner.record.troubles import RecordTrouble, in_words
from planner.record.writer import one_writer

_KEPT = (Kind.REMOVAL, Kind.PLAN, Kind.OFFSET, Kind.CLOCK, Kind.BACKUP, Kind.DENIED)
_AT_ONCE = 500
_NOTHING = dict.fromkeys(("salt", "value", "unit", "acceptable", "note", "reason", "raw"))


@dataclass(frozen=True, slots=True)
class Removed:
    """How many events were blanked (of which refused rows), and the backups that still hold them."""

    events: int
    refused_rows: int
    backups: tuple[str, ...]


def remove(
    store: Store, participant: str, *, by: Actor, reason: str, owner_url: str | None = None
) -> Removed:
    """Blank what that participant gave; on PostgreSQL by the URL of the account that owns the tables."""
    refuse_unless(store, by, Right.REMOVE)
    if not reason.strip():
        raise RecordTrouble("reason", "a removal needs a reason", "Say why, without naming anybody.")
    engine = _owner_engine(store, owner_url)
    try:
        with store.writer.alone():
            done = _in_one_go(store, engine, participant, by, reason)
            _leave_no_trace(engine)
        return done
    except CAUGHT as error:
        raise in_words(error) from error
    finally:
        if engine is not store.engine:
            engine.dispose()


def _owner_engine(store: Store, owner_url: str | None) -> Engine:
    if store.path is not None:
        return store.engine
    if owner_url is None:
        hint = "Give the URL of the account that owns the tables."
        raise RecordTrouble("owner", "the app's account may not remove anything", hint)
    return postgres_engine(owner_url, schema_name(store.study, rehearsed=store.rehearsed))


def _in_one_go(store: Store, engine: Engine, participant: str, by: Actor, reason: str) -> Removed:
    with engine.begin() as connection:
        one_writer(connection)
        found = _events_of(connection, participant)
        backups = _backups(connection)
        seqs = [seq for seq, _ in found]
        raw = json.dumps({"events": seqs, "backups": list(backups)})
        draft = by.sign(
            Draft(Kind.REMOVAL, participant=participant, content=Content(reason=reason.strip(), raw=raw))
        )
        batch = Batch(read_head(connection))
        place = batch.add(replace(draft, by=by.code), utc_text(store.now()))
        insert(connection, batch.events)
        _blank(connection, seqs, place)
    store.writer.note_head(batch.head)
    return Removed(len(seqs), sum(kind == Kind.REFUSED for _, kind in found), backups)


def _events_of(connection: Connection, participant: str) -> list[tuple[int, str]]:
    """Events about the participant that still say something, and refused rows that name them."""
    query = (
        sa.select(event.c.seq, event.c.kind, event.c.participant, content.c.raw)
        .join(content, content.c.seq == event.c.seq)
        .where(content.c.salt.is_not(None), event.c.kind.not_in([str(kind) for kind in _KEPT]))
        .where(sa.or_(event.c.participant == participant, event.c.kind == str(Kind.REFUSED)))
        .order_by(event.c.seq)
    )
    rows = connection.execute(query).all()
    return [(row.seq, row.kind) for row in rows if row.participant == participant or _names(row, participant)]


def _names(row: Any, participant: str) -> bool:
    """Whether a refused row, known to be nobody's, holds this code in any of its cells."""
    if row.participant is not None:
        return False
    cells = json.loads(row.raw or "{}").get("cells", {})
    return any(participant.casefold() in str(text).casefold() for text in cells.values())


def _backups(connection: Connection) -> tuple[str, ...]:
    query = (
        sa.select(content.c.note)
        .join(event, event.c.seq == content.c.seq)
        .where(event.c.kind == str(Kind.BACKUP))
        .order_by(event.c.seq)
    )
    return tuple(dict.fromkeys(row.note for row in connection.execute(query) if row.note))


def _blank(connection: Connection, seqs: Sequence[int], place: int) -> None:
    for start in range(0, len(seqs), _AT_ONCE):
        part = seqs[start : start + _AT_ONCE]
        already = {
            row.seq for row in connection.execute(sa.select(removed.c.seq).where(removed.c.seq.in_(part)))
        }
        new = [{"seq": seq, "by_event": place} for seq in part if seq not in already]
        if new:
            connection.execute(sa.insert(removed), new)
        connection.execute(sa.update(content).where(content.c.seq.in_(part)).values(**_NOTHING))


def _leave_no_trace(engine: Engine) -> None:
    """What was said is gone from the files too, not only from the table."""
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT", testday_reads=True) as connection:
        if engine.dialect.name == "sqlite":
            raw: Any = connection.connection.driver_connection
            raw.rollback()
            raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        else:
            connection.exec_driver_sql("VACUUM FULL content")
