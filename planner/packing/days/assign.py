"""Visits to days and slots: which participant comes when, so that all are placed and the study ends early.

A slot is a place in a packed day whose rigs and people are already its own, so nothing but room, days
between visits, hours and time of day is left to decide. Every participant takes the cheapest chain of
slots; slots that too many want grow dearer from round to round until nobody shares one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from planner.packing.bounds.slot_bounds import least_day_of_slots
from planner.packing.budget import Budget
from planner.packing.days.cheapest import Cheapest
from planner.packing.days.market import Cell, Chain, Floats, Market, Slots, Taken

_PATIENCE = 12  # rounds without less crowding before a deadline is given up
_FIRST_TRIES = 3  # of the earliest day that is thinkable, each with twice the patience
_CELL_S = 1e-8  # of work, for one slot of one day looked at in one band by one visit,
_IN_TURN = 8  # times that, where visits may follow each other on one day


class Assigner:
    """Chooses chains of slots; the same input and seed give the same answer."""

    def __init__(self, slots: Slots, chains: Sequence[Chain], budget: Budget, *, seed: int = 1) -> None:
        self.slots = slots
        self.budget = budget
        self.chains = tuple(chains)
        self._random = np.random.default_rng(seed)
        self._noise = self._random.random(slots.room.shape) * 0.05
        self._by_price = Cheapest(slots)

    def _cheapest(
        self, chain: Chain, price: Floats, last: int, market: Market, *, whole: bool, hard: bool = True
    ) -> tuple[Cell, ...]:
        """The cheapest chain that ends by day `last`; else, unless `whole`, its beginning."""
        each = _CELL_S * (_IN_TURN if any(leg.at_least == 0 for leg in chain[1:]) else 1)
        self.budget.spend(each * len(chain) * len(self.slots.together) * price.size)
        return self._by_price.chain(chain, price, last, market.day_left(hard=hard), whole=whole)

    def by_deadline(
        self,
        last: int,
        start: Taken | None,
        budget: Budget,
        *,
        patience: int = _PATIENCE,
    ) -> Taken | None:
        """All chains whole by day `last`, or None where no such choice was found in the time."""
        market = Market.opened(self.slots)
        taken: list[tuple[Cell, ...]] = [()] * len(self.chains)
        if start is not None:
            for p, cells in enumerate(start):
                if len(cells) == len(self.chains[p]) and cells and cells[-1][0] <= last:
                    taken[p] = cells
                    market.take(cells, 1)
        best, since = 1 << 60, 0
        while True:
            for p in self._random.permutation(len(self.chains)).tolist():
                if taken[p] and not market.is_crowded(taken[p]):
                    continue
                if budget.is_over:
                    return None
                market.take(taken[p], -1)
                price = market.prices(hard=False) + self._noise
                taken[p] = self._cheapest(self.chains[p], price, last, market, whole=True, hard=False)
                if not taken[p] and self.chains[p]:
                    return None  # alone in the laboratory it would not fit either
                market.take(taken[p], 1)
            crowding = market.crowding
            if not crowding:
                return tuple(taken)
            best, since = (crowding, 0) if crowding < best else (best, since + 1)
            if since > patience:
                return None
            market.grow_dearer()

    def tried(self, last: int, start: Taken | None, budget: Budget, tries: int) -> Taken | None:
        """The same, tried so often with ever more patience; only the first time from `start`."""
        for number in range(tries):
            patience = _PATIENCE * 2**number
            found = self.by_deadline(last, None if number else start, budget, patience=patience)
            if found is not None or budget.is_over:
                return found
        return None

    def as_many_as_fit(self, last: int, start: Taken | None = None) -> Taken:
        """Chains that never share a slot; what does not fit is cut off at the end of its chain."""
        market = Market.opened(self.slots)
        taken: list[tuple[Cell, ...]] = [()] * len(self.chains)
        for p, cells in enumerate(start or ()):
            taken[p] = cells
            market.take(cells, 1)
        choices = [sum(int(s.allowed.sum()) for s in chain) for chain in self.chains]
        early = np.arange(self.slots.room.shape[0])[:, None] * 0.2
        for p in sorted(range(len(self.chains)), key=lambda p: (choices[p], p)):
            if len(taken[p]) == len(self.chains[p]):
                continue
            market.take(taken[p], -1)
            price = market.prices(hard=True) + early + self._noise
            taken[p] = self._cheapest(self.chains[p], price, last, market, whole=False)
            market.take(taken[p], 1)
        return tuple(taken)

    def longest(self, taken: Taken, last: int) -> Taken:
        """The same, but who lacks a visit takes the longest chain that there is with nobody else about."""
        market = Market.opened(self.slots)
        free = market.prices(hard=True)
        return tuple(
            cells if len(cells) == len(chain) else self._cheapest(chain, free, last, market, whole=False)
            for cells, chain in zip(taken, self.chains, strict=True)
        )

    def improve(self, taken: Taken, last: int, most: int) -> Taken:
        """More visits placed, `most` at most, by clearing some participants at random and choosing anew."""
        best, best_count = taken, sum(map(len, taken))
        while best_count < most and not self.budget.is_over:
            short = [p for p, cells in enumerate(best) if len(cells) < len(self.chains[p])]
            others = [p for p in range(len(best)) if p not in set(short)]
            count = min(len(others), max(3, len(others) // 5))
            free = set(self._random.permutation(others)[:count].tolist()) | set(short)
            kept = tuple(() if p in free else cells for p, cells in enumerate(best))
            order = [int(p) for p in self._random.permutation(sorted(free))]
            found = self._refill(kept, order, last)
            if sum(map(len, found)) >= best_count:
                best, best_count = found, sum(map(len, found))
        return best

    def _refill(self, kept: Taken, order: Sequence[int], last: int) -> Taken:
        market = Market.opened(self.slots)
        taken = list(kept)
        for cells in kept:
            market.take(cells, 1)
        noise = self._random.random(self.slots.room.shape)
        for p in order:
            price = market.prices(hard=True) + noise
            taken[p] = self._cheapest(self.chains[p], price, last, market, whole=False)
            market.take(taken[p], 1)
        return tuple(taken)


def _last(taken: Taken) -> int:
    return max((cells[-1][0] for cells in taken if cells), default=0)


@dataclass(frozen=True)
class Assigned:
    """The cells by participant; `missing` visits have none."""

    taken: Taken
    missing: int

    @property
    def last_day(self) -> int:
        """The last day with a visit."""
        return _last(self.taken)


def assign(
    slots: Slots,
    chains: Sequence[Chain],
    *,
    least_last_day: int,
    budget: Budget,
    seed: int = 1,
    told: Callable[[Assigned], None] | None = None,
    dogged: bool = True,
    known: Taken | None = None,
    at_most: int | None = None,
) -> Assigned:
    """As many visits as found within the budget, and among those plans one that ends early.

    No plan ends before `least_last_day`; a plan that ends as early as these slots allow needs no
    further search. `dogged`: a last day that was not reached is tried again until the budget is over.
    `known` is a choice of these slots to begin with. `at_most`: no plan places more visits than that.
    """
    asked = sum(map(len, chains))
    horizon = slots.room.shape[0] - 1
    assigner = Assigner(slots, chains, budget, seed=seed)

    def tell(taken: Taken) -> Assigned:
        found = Assigned(taken, asked - sum(map(len, taken)))
        if told is not None:
            told(found)
        return found

    best = tell(known if known is not None else assigner.as_many_as_fit(horizon))
    most = sum(map(len, assigner.longest(best.taken, horizon)))
    most = most if at_most is None else min(most, at_most)
    if most < asked:  # no deadline can be kept by all
        return tell(assigner.improve(best.taken, horizon, most))
    least_last_day = least_day_of_slots(slots, chains, least_last_day)
    low, high = least_last_day, best.last_day if not best.missing else horizon + 1
    target = low
    while low < high and not budget.is_over:
        first = target == least_last_day
        part = budget.part(budget.left_s * (0.6 if first else 1.0))
        start = None if best.missing else best.taken
        found = assigner.tried(target, start, part, _FIRST_TRIES if first else 1)
        if found is not None:
            best, high = tell(found), target
        else:
            low = target + 1
        target = (low + high) // 2
    patience = _PATIENCE
    while dogged and high > least_last_day and not budget.is_over:
        patience = min(2 * patience, 400)
        again = None if best.missing or patience % 48 else best.taken
        found = assigner.by_deadline(high - 1, again, budget, patience=patience)
        if found is not None:
            best, high = tell(found), high - 1
    if best.missing:
        best = tell(assigner.improve(best.taken, horizon, asked))
    return best
