"""Is a copy's outside as the migrations make it? Its guards against changes are part of it."""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from planner.record.engine import migrate, sqlite_engine, version
from planner.record.troubles import RecordTrouble

_MADE = sa.text("SELECT type, name, tbl_name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'")


def refuse_foreign(engine: Engine) -> None:
    """RecordTrouble where the file holds no record at all: such a file would be made into an empty one."""
    if version(engine) is None:
        raise RecordTrouble("foreign", "the file is no backup of a record", "Name another file.")


def refuse_altered(engine: Engine, beside: Path) -> None:
    """RecordTrouble where tables, views or triggers are not those of a record; `beside` is free to use."""
    fresh = sqlite_engine(beside)
    try:
        migrate(fresh)
        is_same = _made(fresh) == _made(engine)
    finally:
        fresh.dispose()
    if not is_same:
        words = "the copy's tables or its guards against changes are not those of a record"
        raise RecordTrouble("altered", words, "It was not used: another program has altered it.")


def _made(engine: Engine) -> frozenset[tuple[str, ...]]:
    with engine.connect().execution_options(testday_reads=True) as connection:
        return frozenset(tuple(map(str, row)) for row in connection.execute(_MADE))
