"""How long a way is looked for in which nobody loses their place, with a stand-in for the rings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any

import pytest

from planner.packing.mend import search
from planner.packing.mend.ring import Found, Ring
from planner.packing.mend.search import LARGE_SHARE, TOUCHED, mend
from planner.packing.mend.standing import Facts
from planner.packing.mend.troubles import Troubles

OPENS = datetime(2027, 3, 1, 8, tzinfo=UTC)


def standing(number: int) -> Any:
    """A visit of an hour; the first must change."""
    start = OPENS + timedelta(minutes=30 * number)
    placed = SimpleNamespace(start=start, end=start + timedelta(hours=1))
    free = {"begun": set(), "ends": {}, "earliest": None, "may_change": lambda now: True}
    return SimpleNamespace(placed=placed, must_change=number == 0, **free)


def found(lost: int) -> Found:
    """A day that loses so many visits and touches one participant, with nothing proven."""
    day = SimpleNamespace(facts=SimpleNamespace(standings=()))
    return Found(day, SimpleNamespace(), (lost, 0, 0, 0, 1, 1, 60), (0, 0, 0, 0, 1, 0, 0))  # type: ignore[arg-type]


@dataclass(frozen=True)
class Rings:
    """Loses `lost` visits at first; by pieces everybody has a place."""

    facts: Facts
    lost: int
    at_least: int = 0
    stop: Any = None
    pieces: list[float] = field(default_factory=list)
    asked_s: list[float] = field(default_factory=list)  # for rings, since everybody has a place

    @property
    def is_stopped(self) -> bool:
        return bool(self.stop and self.stop())

    def least_lost(self, everybody: Sequence[Any]) -> int:
        return self.at_least

    def best(self, ring: Sequence[Any], seconds: float, **asked: Any) -> Ring:
        if self.pieces:
            self.asked_s.append(seconds)
        return Ring(None if asked.get("caps") or "near" not in asked else found(self.lost), False)

    def left_out(self, ring: Sequence[Any]) -> Ring:
        return Ring(found(self.lost), False)

    def waiting(self, ring: Sequence[Any]) -> Ring:
        return Ring(None, False)

    def by_pieces(self, ring: Sequence[Any], seconds: float, near: Found | None, lost: int) -> Ring:
        self.pieces.append(seconds)
        return Ring(found(0), False)


def rings_of(lost: int, at_least: int = 0, stop: Any = None) -> Rings:
    facts = Facts(OPENS.date(), OPENS, tuple(map(standing, range(12))), (), Troubles())
    return Rings(facts, lost, at_least, stop)


def lost_after(lost: int, seconds: float, at_least: int = 0, stop: Any = None) -> int:
    rings = rings_of(lost, at_least, stop)
    best = mend(rings, seconds)  # type: ignore[arg-type]
    assert best is not None
    return best.values[0]


class Slow(Rings):
    """No ring finds a day in the time that it has."""

    def best(self, ring: Sequence[Any], seconds: float, **asked: Any) -> Ring:
        return Ring(None, False)


def test_some_way_is_known_from_who_must_change_alone_however_little_time_there_is() -> None:
    rings = Slow(rings_of(1).facts, 1)
    best = mend(rings, 2)  # type: ignore[arg-type]
    assert best is not None
    assert rings.pieces, "and room is looked for from there"


def test_a_day_of_which_not_all_is_proven_was_cut_short() -> None:
    """Whatever stays open, stays so for want of time: with all proven, nothing was."""
    best = mend(rings_of(1), 2)  # type: ignore[arg-type]
    assert best is not None
    assert best.is_cut_short
    proven = replace(best, bounds=best.values)
    alone = SimpleNamespace(waiting=lambda ring: Ring(None, False), best=lambda *_, **__: Ring(proven, True))
    again = mend(SimpleNamespace(**vars(alone), facts=rings_of(0).facts, is_stopped=False), 2)  # type: ignore[arg-type]
    assert again is not None
    assert not again.is_cut_short


class Waits(Slow):
    """Nothing else finds a day in which nobody loses their place."""

    def waiting(self, ring: Sequence[Any]) -> Ring:
        return Ring(found(0), False)


def test_what_waiting_makes_of_the_day_stands_where_nothing_better_is_found() -> None:
    best = mend(Waits(rings_of(1).facts, 1), 2)  # type: ignore[arg-type]
    assert best is not None
    assert best.values[0] == 0


@pytest.mark.parametrize("lost", [1, 3])
@pytest.mark.parametrize("seconds", [15, 60])
def test_all_the_time_there_is_is_used_where_a_place_is_lost(lost: int, seconds: float) -> None:
    assert lost_after(lost, seconds) == 0


def test_after_a_stop_no_more_is_looked_for() -> None:
    assert lost_after(3, 60, stop=lambda: True) == 3


def test_where_counting_says_that_so_many_are_lost_no_more_is_looked_for() -> None:
    assert lost_after(3, 60, at_least=3) == 3
    assert lost_after(3, 60, at_least=2) == 0


def test_the_time_goes_into_one_hunt_for_room() -> None:
    """A second one with the same seed would only walk the way of the first again."""
    rings = rings_of(1)
    mend(rings, 60)  # type: ignore[arg-type]
    assert len(rings.pieces) == 1
    assert rings.pieces[0] > 0.75 * 60


def test_once_everybody_has_a_place_a_large_day_is_soon_handed_over() -> None:
    rings = rings_of(1)
    mend(rings, 60)  # type: ignore[arg-type]
    assert rings.asked_s
    assert sum(rings.asked_s) <= LARGE_SHARE * 60


@dataclass(frozen=True)
class Better(Rings):
    """A first day that touches two; with whom is tried at last, and then fewer blocks change."""

    def best(self, ring: Sequence[Any], seconds: float, **asked: Any) -> Ring:
        if asked.get("below"):
            return Ring(touching(2, blocks=2), True)
        return Ring(touching(2, blocks=4) if asked.get("aims") == TOUCHED + 1 else None, True)


def touching(people: int, blocks: int) -> Found:
    day = SimpleNamespace(facts=SimpleNamespace(standings=()))
    return Found(day, SimpleNamespace(), (0, 0, 0, 0, people, blocks, 60), (0, 0, 0, 0, 1, 0, 0))  # type: ignore[arg-type]


def test_the_better_day_that_is_found_while_bounds_are_proven_is_the_one_handed_over() -> None:
    facts = Facts(OPENS.date(), OPENS, tuple(map(standing, range(6))), (), Troubles())
    best = mend(Better(facts, 0), 60)  # type: ignore[arg-type]
    assert best is not None
    assert best.values == best.bounds == (0, 0, 0, 0, 2, 2, 60)


@dataclass(frozen=True)
class Fewer(Rings):
    """Any day with the first visit and the third among those that are free holds; all free are touched."""

    def best(self, ring: Sequence[Any], seconds: float, **asked: Any) -> Ring:
        holds = {OPENS, OPENS + timedelta(hours=1)} <= {standing.placed.start for standing in ring}
        if not holds or len(ring) > (*asked.get("caps", ()), *[99] * 5)[TOUCHED]:
            return Ring(None, True)
        day = SimpleNamespace(facts=SimpleNamespace(standings=tuple(ring)))
        values = (0, 0, 0, 0, len(ring), len(ring), 60)
        return Ring(Found(day, SimpleNamespace(), values, (0, 0, 0, 0, 1, 0, 0)), True)  # type: ignore[arg-type]


def test_others_are_left_out_by_turns_until_nobody_is_touched_in_vain(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A day of 12 in which three had to change touched five: all that was tried freed everybody at once."""
    monkeypatch.setattr(search, "is_touched", lambda day, answer, j: True)
    monkeypatch.setattr(search, "_with_more", lambda *_: search.Refuted(0, False))
    facts = Facts(OPENS.date(), OPENS, tuple(map(standing, range(5))), (), Troubles())
    best = mend(Fewer(facts, 0), 60)  # type: ignore[arg-type]
    assert best is not None
    assert best.values[TOUCHED] == 2


@dataclass(frozen=True)
class Missing(Rings):
    """The more visits are free, the fewer windows are missed; with eight, none."""

    def best(self, ring: Sequence[Any], seconds: float, **asked: Any) -> Ring:
        if asked.get("caps"):
            return Ring(None, True)
        missed = max(0, 8 - len(ring))
        day = SimpleNamespace(facts=SimpleNamespace(standings=()))
        return Ring(Found(day, SimpleNamespace(), (0, missed, 60 * missed, 0, 1, 1, 60), (0,) * 7), False)  # type: ignore[arg-type]

    def by_pieces(self, ring: Sequence[Any], seconds: float, near: Found | None, lost: int) -> Ring:
        return Ring(near, False)


def test_a_large_day_takes_some_time_more_for_windows_that_it_need_not_miss() -> None:
    """With four visits freed and no more, five windows were missed where one had to be."""
    facts = Facts(OPENS.date(), OPENS, tuple(map(standing, range(12))), (), Troubles())
    facts.standings[0].begun.add(0)
    best = mend(Missing(facts, 0), 60)  # type: ignore[arg-type]
    assert best is not None
    assert best.values[1] == 0


def test_whoever_is_called_too_soon_is_put_elsewhere_before_changes_are_counted(monkeypatch) -> None:
    """The first day found calls somebody a minute too soon; another calls them in time."""
    rings = rings_of(0)
    soon = replace(found(0), values=(0, 0, 0, 60, 1, 1, 60))
    monkeypatch.setattr(
        Rings, "best", lambda self, ring, seconds, **asked: Ring(None if asked.get("caps") else soon, False)
    )
    monkeypatch.setattr(
        Rings, "called_in_time", lambda self, ring, seconds, near: Ring(found(0), False), raising=False
    )
    best = mend(rings, 5)  # type: ignore[arg-type]
    assert best is not None
    assert best.values[3] == 0
