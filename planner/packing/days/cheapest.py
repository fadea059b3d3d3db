"""The cheapest chain of slots for one participant's visits, from the price of every slot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from planner.packing.days.market import Bools, Cell, Chain, Floats, Ints, Leg, Slots, reach
from planner.packing.days.turns import Turns


@dataclass(frozen=True)
class _Sums:
    """What the chain up to one of its visits costs at least, by band and the day of that visit.

    `by_slot` has it for each slot of the day; None where no other visit can come on that day: what the
    slots cost themselves, by `own`, then says which is the cheapest.
    """

    leg: Leg
    by_day: Floats
    own: Floats
    by_slot: Floats | None


class Cheapest:
    """Finds the cheapest chain of slots that may stand together, in order, as far apart as they must be."""

    def __init__(self, slots: Slots) -> None:
        self.slots = slots
        self._turns = Turns(slots)
        kinds = len(slots.together[0][0]) if slots.together else 0
        # Slots first: what is least over a day's slots is then found for all bands and days at once.
        self._barred = {
            (timed, kind): np.ascontiguousarray(
                [np.where(band[0 if timed else 1][kind].T, 0.0, np.inf) for band in slots.together]
            ).swapaxes(0, 1)
            for timed in (True, False)
            for kind in range(kinds)
        }

    def chain(
        self, chain: Chain, price: Floats, last: int, day_left: Ints, *, whole: bool
    ) -> tuple[Cell, ...]:
        """The cheapest chain that ends by day `last`; else, unless `whole`, its beginning.

        No day has more than one of its visits, unless `day_left` leaves room for them all.
        """
        single = np.zeros(last + 1, bool)
        while True:
            cells = self._chain(chain, price[: last + 1], single, whole=whole)
            on_day = Counter(day for day, _ in cells)
            full = [day for day, count in on_day.items() if count > max(1, int(day_left[day]))]
            if not full:
                return cells
            single[full] = True

    def _chain(self, chain: Chain, price: Floats, single: Bools, *, whole: bool) -> tuple[Cell, ...]:
        """The same within the days of `price`; `single` days have one of its visits at most."""
        sums: list[_Sums] = []
        known: dict[Hashable, tuple[Floats, Floats]] = {}  # legs are much alike
        for number, leg in enumerate(chain):
            alike = id(leg.allowed), leg.timed, leg.kind
            if alike not in known:
                cost = np.where(leg.allowed[: len(price)], price, np.inf)
                known[alike] = cost, self._least(leg, cost)
            follows = number + 1 < len(chain) and chain[number + 1].at_least == 0
            found = self._sums(leg, *known[alike], sums[-1] if sums else None, single, follows=follows)
            if not np.isfinite(found.by_day).any():
                break
            sums.append(found)
        if not sums or (whole and len(sums) < len(chain)):
            return ()
        return self._back(sums, single)

    def _least(self, leg: Leg, cost: Floats) -> Floats:
        """By band and day, the least that a slot costs."""
        barred = self._barred[leg.timed, leg.kind][:, :, : len(cost)]
        found: Floats = (barred + cost.T[:, None]).min(axis=0, initial=np.inf)
        return found

    def _sums(
        self, leg: Leg, cost: Floats, least: Floats, before: _Sums | None, single: Bools, *, follows: bool
    ) -> _Sums:
        """`follows`: whether the next visit may come on the same day."""
        gone = reach(before.by_day, leg) if before else np.zeros(least.shape)
        in_turn = before is not None and leg.at_least == 0 and before.by_slot is not None
        if not in_turn and not follows:
            return _Sums(leg, least + gone, cost, None)
        own = self._barred[leg.timed, leg.kind][:, :, : len(cost)].transpose(1, 2, 0) + cost[None]
        if before is None or before.by_slot is None or not in_turn:
            return _Sums(leg, least + gone, cost, own + gone[:, :, None])
        same_day = self._turns.least_before(before.by_slot, before.leg.kind, leg.kind)
        same_day[:, single] = np.inf
        by_slot = own + np.minimum(gone[:, :, None], same_day)
        return _Sums(leg, by_slot.min(axis=2), cost, by_slot)

    def _back(self, sums: list[_Sums], single: Bools) -> tuple[Cell, ...]:
        band, day = (int(i) for i in np.unravel_index(np.argmin(sums[-1].by_day), sums[-1].by_day.shape))
        cells = [(day, int(np.argmin(self._row(sums[-1], band, day))))]
        for here, before in zip(sums[:0:-1], sums[-2::-1], strict=True):
            cells.append(self._before(here.leg, before, cells[-1], band, single))
        return tuple(reversed(cells))

    def _row(self, sums: _Sums, band: int, day: int) -> Floats:
        """What each slot of that day costs, a number for all of them apart."""
        if sums.by_slot is not None:
            found: Floats = sums.by_slot[band, day]
            return found
        costs: Floats = sums.own[day] + self._barred[sums.leg.timed, sums.leg.kind][:, band, day]
        return costs

    def _before(self, leg: Leg, before: _Sums, cell: Cell, band: int, single: Bools) -> Cell:
        """Where the visit before the one in that cell has its cheapest place."""
        day, slot = cell
        low = 0 if leg.at_most is None else max(0, day - leg.at_most)
        others = before.by_day[band, low : day - max(1, leg.at_least) + 1]
        if leg.at_least == 0 and before.by_slot is not None and not single[day]:
            row = before.by_slot[band, day] + self._turns.may_follow(day, slot, before.leg.kind, leg.kind)
            if row.min() <= others.min(initial=np.inf):
                return day, int(np.argmin(row))
        on = low + int(np.argmin(others))
        return on, int(np.argmin(self._row(before, band, on)))
