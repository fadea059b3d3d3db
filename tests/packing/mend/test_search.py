"""How long a way is looked for in which nobody loses their place, with a stand-in for the rings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from planner.packing.mend.facts import Facts
from planner.packing.mend.ring import Found, Ring
from planner.packing.mend.search import PATIENT_S, mend
from planner.packing.mend.troubles import Troubles

OPENS = datetime(2027, 3, 1, 8, tzinfo=UTC)


def standing(number: int) -> Any:
    """A visit of an hour; the first must change."""
    start = OPENS + timedelta(minutes=30 * number)
    placed = SimpleNamespace(start=start, end=start + timedelta(hours=1))
    return SimpleNamespace(
        placed=placed, must_change=number == 0, begun=set(), ends={}, earliest=None, free=lambda: [0]
    )


def found(lost: int) -> Found:
    """A day that loses so many visits and touches one participant, with nothing proven."""
    day = SimpleNamespace(facts=SimpleNamespace(standings=()))
    return Found(day, SimpleNamespace(), (lost, 0, 0, 1, 1, 60), (0, 0, 0, 1, 0, 0))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Rings:
    """Loses `lost` visits at first; the second time by pieces everybody has a place."""

    facts: Facts
    lost: int
    stop: Any = None
    pieces: list[float] = field(default_factory=list)

    @property
    def is_stopped(self) -> bool:
        return bool(self.stop and self.stop())

    def best(self, ring: Sequence[Any], seconds: float, **asked: Any) -> Ring:
        return Ring(None if asked.get("caps") or "near" not in asked else found(self.lost), False)

    def by_pieces(self, ring: Sequence[Any], seconds: float, near: Found | None) -> Ring:
        self.pieces.append(seconds)
        return Ring(found(self.lost if len(self.pieces) == 1 else 0), False)


def lost_after(lost: int, seconds: float, stop: Any = None) -> int:
    facts = Facts(OPENS.date(), OPENS, tuple(map(standing, range(12))), (), Troubles())
    rings = Rings(facts, lost, stop)
    best = mend(rings, seconds)  # type: ignore[arg-type]
    assert best is not None
    return best.values[0]


@pytest.mark.parametrize("lost", [1, 3])
def test_who_gives_more_time_has_it_used_where_a_place_is_lost(lost: int) -> None:
    assert lost_after(lost, 3 * PATIENT_S) == 0


def test_of_less_time_the_rest_is_used_only_where_many_places_are_lost() -> None:
    assert lost_after(3, PATIENT_S) == 0
    assert lost_after(1, PATIENT_S) == 1


def test_after_a_stop_no_more_is_looked_for() -> None:
    assert lost_after(3, 3 * PATIENT_S, stop=lambda: True) == 3
