"""Slots and their prices: what may be taken, what is taken, and how dear a crowded slot has become."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

PRESSURE = 0.5  # of a price, for each visit too many: were it much, nobody would push another one out
DEARER = 0.4  # of the first price, for each round that a slot has one visit too many


@dataclass(frozen=True)
class Slots:
    """What may be taken. Rows are calendar days from the study's first, columns slots of a day.

    `room[d, k]`: how many visits slot k of day d takes (0: there is none). `day_room[d]`: visits of
    the day. `together[b]` is one band of slots that the visits of one participant may share: the
    pair of masks (for visits held to one time of day, for the others), each by kind of visit.
    `starts` and `ends` of a slot, by kind too, say which slots of a day can follow each other.
    """

    room: Ints
    day_room: Ints
    together: tuple[tuple[tuple[Bools, ...], tuple[Bools, ...]], ...]
    starts: tuple[Floats, ...] = ()
    ends: tuple[Floats, ...] = ()


@dataclass(frozen=True)
class Leg:
    """One visit of a chain: which slots it may take, its kind, and the days since the one before it.

    With no days at least it may follow on the same day, in a slot that starts when the other has ended.
    """

    allowed: Bools  # [days, slots]
    kind: int
    timed: bool
    at_least: int = 0
    at_most: int | None = None


Chain = tuple[Leg, ...]
Cell = tuple[int, int]
Taken = tuple[tuple[Cell, ...], ...]  # by participant, the cells of its placed visits, in order


@dataclass
class Market:
    """Prices and use of every slot while participants choose."""

    slots: Slots
    used: Ints
    day_used: Ints
    past: Floats
    day_past: Floats

    @classmethod
    def opened(cls, slots: Slots) -> Market:
        shape = slots.room.shape
        return cls(
            slots,
            np.zeros(shape, np.int64),
            np.zeros(shape[0], np.int64),
            np.ones(shape),
            np.zeros(shape[0]),
        )

    def take(self, cells: Sequence[Cell], sign: int) -> None:
        for day, slot in cells:
            self.used[day, slot] += sign
            self.day_used[day] += sign

    def prices(self, *, hard: bool) -> Floats:
        over = np.maximum(self.used + 1 - self.slots.room, 0)
        day_over = np.maximum(self.day_used + 1 - self.slots.day_room, 0)
        price: Floats = self.past * (1 + PRESSURE * over) + (self.day_past + PRESSURE * day_over)[:, None]
        price[self.slots.room == 0] = np.inf
        if hard:
            price[over > 0] = np.inf
            price[day_over > 0] = np.inf
        return price

    def day_left(self, *, hard: bool) -> Ints:
        """How many visits more each day takes; not `hard`: as if nobody else came."""
        return self.slots.day_room - self.day_used if hard else self.slots.day_room

    @property
    def crowding(self) -> int:
        """How many visits too many stand in slots and days."""
        over = np.maximum(self.used - self.slots.room, 0).sum()
        return int(over + np.maximum(self.day_used - self.slots.day_room, 0).sum())

    def is_crowded(self, cells: Sequence[Cell]) -> bool:
        return any(
            self.used[d, k] > self.slots.room[d, k] or self.day_used[d] > self.slots.day_room[d]
            for d, k in cells
        )

    def grow_dearer(self) -> None:
        self.past += DEARER * np.maximum(self.used - self.slots.room, 0)
        self.day_past += DEARER * np.maximum(self.day_used - self.slots.day_room, 0)


def reach(costs: Floats, leg: Leg) -> Floats:
    """For each day, the least of `costs` over the days before it from which `leg` may follow on that day."""
    days, least = costs.shape[1], max(1, leg.at_least)
    reach: Floats = np.full_like(costs, np.inf)
    if least >= days or (leg.at_most is not None and leg.at_most < least):
        return reach
    if leg.at_most is None or leg.at_most >= days:
        reach[:, least:] = np.minimum.accumulate(costs, axis=1)[:, : days - least]
        return reach
    width = leg.at_most - least + 1
    padded = np.full((costs.shape[0], days + leg.at_most), np.inf)
    padded[:, leg.at_most :] = costs
    return _least_of(padded, width)[:, :days]


def _least_of(costs: Floats, width: int) -> Floats:
    """The least of each `width` neighbours in a row: of two that overlap, each of two, and so on."""
    least, covers = costs, 1
    while covers < width:
        step = min(covers, width - covers)
        least, covers = np.minimum(least[:, :-step], least[:, step:]), covers + step
    return least
