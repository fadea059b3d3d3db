"""Backup and restore, while the record is in use. A backup is an SQLite file, whatever it was made from."""

from __future__ import annotations

import os
import secrets
import shutil
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from planner.record.access import Actor, Right, refuse_unless
from planner.record.append import read_head
from planner.record.caught import CAUGHT
from planner.record.chain import Problem, check
from planner.record.engine import bring_up, private_folder, sqlite_engine
from planner.record.events import Content, Draft, Kind
from planner.record.guard import refuse_altered, refuse_foreign
from planner.record.lock import Lock
from planner.record.store import Store
from planner.record.tables import content, event, removed
from planner.record.troubles import RecordTrouble, in_words
from planner.record.writer import PATIENCE_S, Writer, one_writer

_AT_ONCE, _PAUSE_S = 2000, 0.05


@dataclass(frozen=True, slots=True)
class Copied:
    """A backup made or restored: how many events it holds, and where what was there before is kept."""

    file: Path
    events: int
    kept: Path | None = None


def backup(store: Store, to: Path, *, by: Actor) -> Copied:
    """Copy the record to a new file, whole or not at all; others go on recording meanwhile."""
    refuse_unless(store, by, Right.RECORD)
    target = (
        to / f"{'rehearsal' if store.rehearsed else 'record'}_{datetime.now(UTC):%Y-%m-%d_%H%M%S}Z.sqlite3"
    )
    if to.suffix == ".sqlite3":
        target = to
    if not target.parent.is_dir():  # not made here: a wrong name would put health data where nobody looks
        raise RecordTrouble("no-folder", f"there is no folder {target.parent}", "Make it first.")
    if target.exists():
        raise RecordTrouble("exists", f"there is a file {target.name} already", "Choose another name.")
    try:
        with _workplace(store) as (beside, _):
            _copy_out(store, beside)
            with _opened(store, beside) as copy:
                count = _sound(copy)
            _put(beside, target)
    except CAUGHT as error:
        raise in_words(error) from error
    store.append([by.sign(Draft(Kind.BACKUP, content=Content(note=str(target))))])
    return Copied(target, count)


@contextmanager
def _workplace(store: Store) -> Iterator[tuple[Path, Path]]:
    """Two files on the machine's own disk, gone afterwards: a backup may lie in a network folder.

    One copy is made at a time, so that whatever a killed one left behind is known for that, and goes.
    """
    folder = private_folder(store.study)
    with Lock(folder / "copies.lock") as lock:
        _take(lock)
        _clear(folder)
        try:
            name = secrets.token_hex(4)
            yield folder / f"copy-{name}.part", folder / f"copy-{name}-fresh.part"
        finally:
            _clear(folder)


def _take(lock: Lock) -> None:
    until = time.monotonic() + PATIENCE_S
    while not lock.try_now():
        if time.monotonic() > until:
            raise RecordTrouble("busy", "another copy of the record is being made", "Try again later.")
        time.sleep(_PAUSE_S)


def _clear(folder: Path) -> None:
    for left in folder.glob("copy-*.part*"):
        left.unlink(missing_ok=True)


def _put(file: Path, target: Path) -> None:
    """Copy the file to its place, for its owner alone, whole or not at all."""
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
    try:
        with open(file, "rb") as source, open(os.open(beside, os.O_WRONLY | os.O_CREAT, 0o600), "wb") as out:
            shutil.copyfileobj(source, out)
            out.flush()
            os.fsync(out.fileno())
        os.replace(beside, target)
    finally:
        beside.unlink(missing_ok=True)


def _copy_out(store: Store, file: Path) -> None:
    if store.path is not None:
        os.close(os.open(file, os.O_WRONLY | os.O_CREAT, 0o600))
        with store.engine.connect().execution_options(testday_reads=True) as connection:
            raw: Any = connection.connection.driver_connection
            raw.rollback()
            with closing(sqlite3.connect(file)) as copy:
                raw.backup(copy)
        return
    engine = sqlite_engine(file)
    try:
        bring_up(engine, rehearsed=store.rehearsed)
        copy_events(store.engine, engine)
    finally:
        engine.dispose()


def copy_events(source: Engine, target: Engine) -> None:
    """Copy every row of one record into another that is empty."""
    with source.connect().execution_options(testday_reads=True) as old, target.begin() as new:
        if source.dialect.name == "postgresql":
            old.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        one_writer(new)
        if read_head(new).seq:
            raise RecordTrouble(
                "not-empty", "the record to restore into is not empty", "Restore into a new one."
            )
        for table in (event, content, removed):
            key = list(table.primary_key.columns)
            result = old.execution_options(yield_per=_AT_ONCE).execute(sa.select(table).order_by(*key))
            for rows in result.partitions():
                new.execute(sa.insert(table), [dict(row._mapping) for row in rows])


def restore(store: Store, file: Path, *, by: Actor, anyway: bool = False) -> Copied:
    """Put a backup in the record's place; what was there is kept beside it.

    Refused where the record holds events that the backup lacks, unless `anyway`. PostgreSQL: only into
    an empty record.
    """
    refuse_unless(store, by, Right.RESTORE)
    if not file.is_file():
        raise RecordTrouble("no-file", f"there is no file {file.name}")
    try:
        with _workplace(store) as (beside, fresh):
            shutil.copyfile(file, beside)
            with _opened(store, beside) as copy:
                refuse_altered(copy.engine, fresh)
                count = _sound(copy)
                kept = _put_back(store, copy, anyway)
        store.append([by.sign(Draft(Kind.BACKUP, content=Content(reason="restored", note=str(file))))])
    except CAUGHT as error:
        raise in_words(error) from error
    return Copied(file, count, kept)


def _put_back(store: Store, copy: Store, anyway: bool) -> Path | None:
    with store.writer.alone():
        with copy.engine.connect().execution_options(testday_reads=True) as connection:
            newest = read_head(connection)
        kept = None
        if store.path is None:
            copy_events(copy.engine, store.engine)
        else:
            lacking = _lacking(store, copy)
            if lacking and not anyway:
                words = f"the record holds {lacking} events that the backup lacks"
                raise RecordTrouble("newer", words, "They would be lost from it; say so if that is meant.")
            kept = store.path.with_name(
                f"{store.path.stem}.before-restore-{datetime.now(UTC):%Y%m%dT%H%M%SZ}.sqlite3"
            )
            _copy_out(store, kept)
            _copy_in(copy, store)
        store.writer.note_head(newest)
        return kept


def _lacking(store: Store, copy: Store) -> int:
    """How many events of the record do not stand in the copy: none where the copy goes on from the record."""
    ours, theirs = _hashes(store), _hashes(copy)
    return sum(theirs.get(seq) != digest for seq, digest in ours.items())


def _hashes(store: Store) -> dict[int, str]:
    return {row.seq: row.hash for row in store.read(sa.select(event.c.seq, event.c.hash))}


def _copy_in(copy: Store, store: Store) -> None:
    """Write the copy's pages over the record's in one transaction: whoever has it open sees them next."""
    with (
        copy.engine.connect().execution_options(testday_reads=True) as one,
        store.engine.connect().execution_options(testday_reads=True) as other,
    ):
        source: Any = one.connection.driver_connection
        target: Any = other.connection.driver_connection
        source.rollback()
        target.rollback()
        source.backup(target)


@contextmanager
def _opened(store: Store, file: Path) -> Iterator[Store]:
    """The backup as a record that is only looked at."""
    engine = sqlite_engine(file)
    nowhere = file.parent / ".no-head"
    try:
        refuse_foreign(engine)
        bring_up(engine, rehearsed=store.rehearsed)
        yield Store(
            store.study, engine, store.rehearsed, Writer(engine, nowhere, rehearsed=store.rehearsed), file
        )
    finally:
        engine.dispose()


def _sound(copy: Store) -> int:
    """The number of events of a copy whose chain is whole; RecordTrouble where it is not."""
    problems: tuple[Problem, ...] = check(copy)
    if problems:
        raise RecordTrouble("damaged", f"the copy is not whole: {problems[0].message}", "It was not used.")
    with copy.engine.connect().execution_options(testday_reads=True) as connection:
        return read_head(connection).seq
