"""The earliest last day that the slots themselves allow: where the search for one begins."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.packing.bounds.chains import chain_reach, most_by_flow
from planner.packing.days.market import Bools, Chain, Slots


def least_day_of_slots(slots: Slots, chains: Sequence[Chain], least: int) -> int:
    """No choice of these slots places every visit before this day, nor before `least`.

    The last day where none does. It holds for these slots only, never for the laboratory: days between
    visits and room alone are counted.
    """
    rows = [[_days(leg.allowed) for leg in chain] for chain in chains if chain]
    spans = [[(leg.at_least, leg.at_most) for leg in chain] for chain in chains if chain]
    room = [min(int(a), int(b)) for a, b in zip(slots.room.sum(axis=1), slots.day_room, strict=True)]

    def may_end_by(day: int) -> bool:
        allowed: list[int] = []
        for masks, gaps in zip(rows, spans, strict=True):
            reached = chain_reach(masks, gaps, day)
            if reached is None:
                return False
            allowed += reached
        return most_by_flow(allowed, {d: room[d] for d in range(day + 1) if room[d]}) == len(allowed)

    low, high = least, len(room) - 1
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if may_end_by(middle) else (middle + 1, high)
    return low


def _days(allowed: Bools) -> int:
    """The days with a slot, as bits of a whole number."""
    return int.from_bytes(np.packbits(allowed.any(axis=1), bitorder="little").tobytes(), "little")
