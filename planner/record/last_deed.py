"""The last thing that was recorded of a visit, so that it can be taken back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from planner.record.effort import VisitKey
from planner.record.store import Store


@dataclass(frozen=True, slots=True)
class LastDeed:
    """The numbers of its lines in the record, and where it belongs; `effort` is None for a mark."""

    seqs: tuple[int, ...]
    step: str
    at_s: int | None
    manoeuvre: str | None
    effort: int | None
    reading: str  # of a mark: start, end or stopped


def last_deed(store: Store, key: VisitKey) -> LastDeed | None:
    """The last effort (all of its lines) or mark that still stands; None where nothing does."""
    rows = [row for row in store.rows(key.participant, key.visit) if row.number == key.number]
    if not rows:
        return None
    last = max(rows, key=lambda row: int(row.seq))
    seqs = tuple(int(row.seq) for row in rows if row.seq == last.seq or _is_same_effort(row, last))
    return LastDeed(seqs, last.step, last.at_s, last.manoeuvre, last.effort, last.reading or "")


def _is_same_effort(row: Any, last: Any) -> bool:
    place = ("step", "at_s", "manoeuvre", "effort")
    return last.effort is not None and all(getattr(row, name) == getattr(last, name) for name in place)
