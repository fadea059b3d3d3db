"""The search for the fewest changes: who must change first, then with ever more others, until it holds."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from planner.packing.repack_aims import AIMS, is_touched
from planner.packing.repack_facts import Facts, Standing
from planner.packing.repack_ring import Found, Ring, RingSearch

LARGE_DAY = 8  # visits that may change; up to so many are proven, beyond it a good plan soon is worth more
SOON_S = 2.5  # what a large day gets at most once nothing is lost or missed
ENOUGH_S = 3.5  # what it gets at most where no visit is lost
SURELY_S = 3.0  # for some way at all, however little time is left
LOSSES = 3  # aims before this one are about loss, those from it on about change
TOUCHED = LOSSES
NO_LOSS = (0,) * LOSSES
EACH_S = 1.0  # for one ring of the enumeration
NEAR_S = 60  # visits that overlap, or all but


@dataclass
class Search:
    """The best mended day so far, and what is known of all days."""

    rings: RingSearch
    until: float
    best: Found | None = None

    @property
    def left_s(self) -> float:
        """Seconds that remain."""
        return self.until - time.monotonic()

    def ring(
        self, some: Sequence[Standing], seconds: float, *, caps: Sequence[int] = (), aims: int = len(AIMS)
    ) -> Ring:
        """What comes of freeing these visits, from the best day so far; what is better is kept."""
        found = self.rings.best(some, seconds, caps=caps, aims=aims, near=self.best)
        self.take(found)
        return found

    def take(self, ring: Ring) -> None:
        """Keeps what is better."""
        if ring.found and (self.best is None or ring.found.values < self.best.values):
            self.best = ring.found


def mend(rings: RingSearch, seconds: float) -> Found | None:
    """The day with the fewest changes that was found; None where no way was found in that time.

    Who must change is freed first: where they alone lose nothing, no day touches fewer. Else others
    are freed with them to see what is lost at least, and then those who must change with one more, two
    more, ... until as little is lost: the first number that does is the fewest, once all smaller ones
    have been refuted. The bounds of what comes back hold for the whole day.
    """
    began = time.monotonic()
    forced = [s for s in rings.facts.standings if s.must_change]
    others = _by_nearness(forced, rings.facts)
    is_large = len(forced) + len(others) > LARGE_DAY
    search = Search(rings, began + (min(seconds, ENOUGH_S) if is_large else seconds))
    alone = search.ring(forced, search.left_s * (0.5 if others else 1), caps=NO_LOSS)
    if alone.found:
        return alone.found
    least: tuple[int, ...] = NO_LOSS
    _without_loss(search, forced, others)
    if search.best is None:
        search.until = began + seconds
        least = _with_least_loss(search, forced, others)
        alone = Ring(None, False)
    elif is_large:
        search.until = min(search.until, began + SOON_S)
    if search.best is None:
        return None
    _polish(search)
    return _bounded(search.best, least, len(forced), _with_more(search, forced, others, alone))


def _without_loss(search: Search, forced: Sequence[Standing], others: Sequence[Standing]) -> None:
    """Frees those near the trouble too, then everybody, for a day that loses nothing."""
    near = [s for s in others if _apart(s, forced) < NEAR_S]
    for some in (near, others):
        if some:
            search.ring([*forced, *some], search.left_s / 2, caps=NO_LOSS, aims=TOUCHED + 1)
            if search.best:
                return


def _with_least_loss(
    search: Search, forced: Sequence[Standing], others: Sequence[Standing]
) -> tuple[int, ...]:
    """The day that loses least, by those who must change alone or by everybody; what is lost at least."""
    search.ring(forced, max(SURELY_S, search.left_s / 4), aims=TOUCHED + 1)
    everybody = search.ring([*forced, *others], search.left_s / 2, aims=TOUCHED + 1)
    return everybody.found.bounds[:LOSSES] if everybody.found else NO_LOSS


def _polish(search: Search) -> None:
    """Frees the visits that the best day touches once more: fewest blocks, smallest shifts."""
    assert search.best is not None
    day, answer = search.best.day, search.best.answer
    touched = [s for j, s in enumerate(day.facts.standings) if is_touched(day, answer, j)]
    search.ring(touched, search.left_s / 2, caps=search.best.values[: TOUCHED + 1])


@dataclass(frozen=True)
class Refuted:
    """How many visits more than the forced ones must be touched; whether all days with so many are known."""

    at_least: int
    is_complete: bool


def _bounded(best: Found, least: tuple[int, ...], forced: int, refuted: Refuted) -> Found:
    """The best day with bounds that hold for all days, whatever its ring."""
    loss = tuple(map(min, best.values[:LOSSES], least))
    if loss != best.values[:LOSSES]:
        return replace(best, bounds=(*loss, forced, *[0] * (len(AIMS) - TOUCHED - 1)))
    if refuted.is_complete:
        return replace(best, bounds=best.values)
    touched = min(best.values[TOUCHED], forced + refuted.at_least)
    return replace(best, bounds=(*loss, touched, *[0] * (len(AIMS) - TOUCHED - 1)))


def _by_nearness(forced: Sequence[Standing], facts: Facts) -> list[Standing]:
    """The others that may still change, those whose visits lie nearest first."""
    others = [s for s in facts.standings if not s.must_change and s.free()]
    return sorted(others, key=lambda standing: _apart(standing, forced))


def _apart(standing: Standing, forced: Sequence[Standing]) -> float:
    """Seconds between a visit and the nearest of those that must change, as late as they are now."""
    start, end = standing.placed.start.timestamp(), standing.placed.end.timestamp()
    gaps = (max(start - _last(one), one.placed.start.timestamp() - end) for one in forced)
    return min(gaps, default=0.0)


def _last(standing: Standing) -> float:
    """The end of a visit as late as it is now."""
    start, end = standing.placed.start.timestamp(), standing.placed.end.timestamp()
    late = standing.earliest.timestamp() - start if standing.earliest else 0.0
    longer = [e.timestamp() - standing.by_index[i].end.timestamp() for i, e in standing.ends.items()]
    return end + max(0.0, late, *longer)


def _with_more(
    search: Search, forced: Sequence[Standing], others: Sequence[Standing], alone: Ring
) -> Refuted:
    """Frees ever more others until as little is lost as in the best day so far."""
    is_large = len(forced) + len(others) > LARGE_DAY
    for more in range(1 if alone.is_settled else 0, len(others) + 1):
        settled = True
        for some in combinations(others, more):
            assert search.best is not None
            if search.left_s <= 0:
                return Refuted(more, False)
            seconds = min(EACH_S, search.left_s) if is_large else search.left_s / 3
            caps = _caps(search.best, len(forced) + more)
            settled = search.ring([*forced, *some], seconds, caps=caps).is_settled and settled
        assert search.best is not None
        if search.best.values[TOUCHED] <= len(forced) + more:
            return Refuted(more, settled)
        if not settled:
            return Refuted(more, False)
    return Refuted(len(others), False)


def _caps(best: Found, touched: int) -> tuple[int, ...]:
    """What a ring must reach: no more loss, and where it touches as many as the best, no more blocks."""
    if best.values[TOUCHED] == touched:
        return best.values[: TOUCHED + 2]
    return (*best.values[:LOSSES], touched)
