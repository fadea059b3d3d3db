"""Slots of one day that one participant takes one after the other."""

from __future__ import annotations

import numpy as np

from planner.packing.days.market import Floats, Ints, Slots


class Turns:
    """Which slots of a day follow each other, by the kinds of the two visits."""

    def __init__(self, slots: Slots) -> None:
        self.slots = slots
        self._known: dict[tuple[int, int], tuple[Ints, Ints]] = {}

    def least_before(self, costs: Floats, before: int, after: int) -> Floats:
        """For each slot of each day, the least of `costs` over slots of that day that end before it starts.

        `costs` are by band, day and slot, for visits of the kind `before`; the slots asked about are for
        visits of the kind `after`.
        """
        order, count = (of_days[:, : costs.shape[1]] for of_days in self._pair(before, after))
        sorted_costs = np.take_along_axis(costs, np.broadcast_to(order, costs.shape), axis=2)
        least = np.full((*costs.shape[:2], costs.shape[2] + 1), np.inf)
        least[:, :, 1:] = np.minimum.accumulate(sorted_costs, axis=2)
        found: Floats = np.take_along_axis(least, np.broadcast_to(count, costs.shape), axis=2)
        return found

    def may_follow(self, day: int, slot: int, before: int, after: int) -> Floats:
        """For each slot of that day: 0 where one of kind `after` in `slot` can follow, else infinite."""
        ends, start = self.slots.ends[before][day], self.slots.starts[after][day, slot]
        return np.where(ends <= start, 0.0, np.inf)

    def _pair(self, before: int, after: int) -> tuple[Ints, Ints]:
        """The slots of each day by their end, and how many of them have ended when each slot starts."""
        if (before, after) not in self._known:
            ends, starts = self.slots.ends[before], self.slots.starts[after]
            order = np.argsort(ends, axis=1, kind="stable")
            rows = zip(np.take_along_axis(ends, order, axis=1), starts, strict=True)
            count = np.stack(
                [np.searchsorted(its_ends, its_starts, "right") for its_ends, its_starts in rows]
            )
            self._known[before, after] = order[None], count[None]
        return self._known[before, after]
