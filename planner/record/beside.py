"""What the record knows beside the lines themselves: who wrote them down, and which rows were refused."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import sqlalchemy as sa

from planner.record.events import LINES, Kind
from planner.record.store import Store
from planner.record.tables import content, event

_WHO = ("participant", "visit", "number", "step", "at_s", "manoeuvre", "who")


class RefusedKept(NamedTuple):
    """A row that was not taken in: its file, its place in it (from 1 after the head), and why."""

    file: str
    row: int
    message: str


def writers(store: Store) -> Sequence[Any]:
    """Rows `participant, visit, number, step, at_s, manoeuvre, who`: who first wrote lines of a block down.

    Whoever hands in a file has not served what stands in it, and whoever corrects a line neither: only
    lines that a person entered count.
    """
    query = (
        sa.select(*(event.c[name] for name in _WHO))
        .where(
            event.c.kind.in_([str(kind) for kind in LINES]),
            event.c.manoeuvre.is_not(None),
            event.c.who != "",
            event.c.who_how != "file",
        )
        .distinct()
    )
    return store.read(query)


def refused_rows(store: Store) -> Iterator[RefusedKept]:
    """Every refused row in the order in which they were refused; one that was blanked keeps its place."""
    query = (
        sa.select(content.c.reason, content.c.raw)
        .select_from(event.outerjoin(content, content.c.seq == event.c.seq))
        .where(event.c.kind == str(Kind.REFUSED))
        .order_by(event.c.seq)
    )
    for row in store.read(query):
        raw = json.loads(row.raw) if row.raw else {}
        yield RefusedKept(raw.get("file", ""), int(raw.get("row") or 0), row.reason or "")
