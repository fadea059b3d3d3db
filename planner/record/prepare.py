"""What a first effort would have to wait for, done before it comes: connecting, and the statements' words."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy.engine import Engine

from planner.record.append import Request, append
from planner.record.events import Content, Draft, Kind

_BLOCK = ("tried", "tried", 1, "tried")
_READINGS = ("one", "two", "three", "four")


def try_out(engine: Engine, now: datetime) -> None:
    """Record what a test day records, in the numbers that are usual, and take all of it back.

    Nothing of it is ever in the record: it stands in a transaction that is undone, as that of a station
    that is cut off. The caller holds this machine's writer's lock.
    """
    at = now.isoformat()
    mark = Draft(Kind.MARK, *_BLOCK, started=at, content=Content(note="start"))
    effort = Draft(Kind.EFFORT, *_BLOCK, None, "tried", 1, started=at)
    note = Draft(Kind.NOTE, *_BLOCK, started=at, content=Content(note="tried"))
    readings = [
        Draft(Kind.READING, *_BLOCK, None, "tried", 1, name, at, content=Content("1", "L"))
        for name in _READINGS
    ]
    with engine.connect() as connection, connection.begin() as tried:
        for drafts in ([mark], [effort], [note], readings[:2], readings):
            append(connection, [Request(tuple(drafts), whole=True)], now, last=False)
        tried.rollback()
