"""Of which visits something is recorded: asked of the visits that matter, not of all that is recorded."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import Any, TypeAlias

import sqlalchemy as sa

from planner.record.events import LINES
from planner.record.store import Store
from planner.record.tables import event

Place: TypeAlias = tuple[str, str, int | None]  # participant, kind of visit, number
_AT_ONCE = 32
_IS_LINE = event.c.kind.in_([sa.literal_column(f"'{kind}'") for kind in sorted(LINES)])


def met(store: Store, places: Iterable[Place]) -> frozenset[Place]:
    """Those of the visits of which a line is recorded."""
    wanted = list(dict.fromkeys(places))
    found: list[Place] = []
    for start in range(0, len(wanted), _AT_ONCE):
        part = wanted[start : start + _AT_ONCE]
        asked = part + [part[-1]] * (_AT_ONCE - len(part))
        values = {
            f"{name}{n}": cell for n, one in enumerate(asked) for name, cell in zip("pvn", one, strict=True)
        }
        (answers,) = store.read(_question(), values)
        found += (place for place, is_met in zip(part, answers, strict=False) if is_met)
    return frozenset(found)


@lru_cache(maxsize=1)
def _question() -> sa.Select[Any]:
    columns: list[Any] = [_is_met(n).label(f"m{n}") for n in range(_AT_ONCE)]
    return sa.select(*columns)


def _is_met(n: int) -> sa.ColumnElement[bool]:
    number = sa.bindparam(f"n{n}", type_=sa.Integer)
    return sa.exists(
        sa.select(event.c.seq).where(
            event.c.participant == sa.bindparam(f"p{n}", type_=sa.Text),
            event.c.visit == sa.bindparam(f"v{n}", type_=sa.Text),
            event.c.number.is_not_distinct_from(number),
            _IS_LINE,
        )
    )
