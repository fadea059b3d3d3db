"""The cheapest chain of slots for one participant's visits, from the price of every slot."""

from __future__ import annotations

from collections import Counter
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
        self._masks = {
            (timed, kind): np.stack([band[0 if timed else 1][kind] for band in slots.together])
            for timed in (True, False)
            for kind in range(kinds)
        }

    def chain(
        self, chain: Chain, price: Floats, last: int, day_left: Ints, *, whole: bool
    ) -> tuple[Cell, ...]:
        """The cheapest chain that ends by day `last`; else, unless `whole`, its beginning.

        No day has more than one of its visits, unless `day_left` leaves room for them all.
        """
        single = np.zeros(self.slots.room.shape[0], bool)
        while True:
            cells = self._chain(chain, price, last, single, whole=whole)
            on_day = Counter(day for day, _ in cells)
            full = [day for day, count in on_day.items() if count > max(1, int(day_left[day]))]
            if not full:
                return cells
            single[full] = True

    def _chain(
        self, chain: Chain, price: Floats, last: int, single: Bools, *, whole: bool
    ) -> tuple[Cell, ...]:
        """The same; `single` days have one of its visits at most."""
        sums: list[_Sums] = []
        for number, leg in enumerate(chain):
            cost = np.where(leg.allowed, price, np.inf)
            cost[last + 1 :] = np.inf
            if not np.isfinite(cost).any():
                break
            follows = number + 1 < len(chain) and chain[number + 1].at_least == 0
            found = self._sums(leg, cost, sums[-1] if sums else None, single, follows=follows)
            if not np.isfinite(found.by_day).any():
                break
            sums.append(found)
        if not sums or (whole and len(sums) < len(chain)):
            return ()
        return self._back(sums, single)

    def _sums(self, leg: Leg, cost: Floats, before: _Sums | None, single: Bools, *, follows: bool) -> _Sums:
        """`follows`: whether the next visit may come on the same day."""
        own = np.where(self._masks[leg.timed, leg.kind], cost[None], np.inf)
        gone = reach(before.by_day, leg) if before else np.zeros(own.shape[:2])
        if before is not None and leg.at_least == 0 and before.by_slot is not None:
            same_day = self._turns.least_before(before.by_slot, before.leg.kind, leg.kind)
            same_day[:, single] = np.inf
            by_slot = own + np.minimum(gone[:, :, None], same_day)
            return _Sums(leg, by_slot.min(axis=2), cost, by_slot)
        return _Sums(leg, own.min(axis=2) + gone, cost, own + gone[:, :, None] if follows else None)

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
        mask = self._masks[sums.leg.timed, sums.leg.kind][band][day]
        costs: Floats = np.where(mask, sums.own[day], np.inf)
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
