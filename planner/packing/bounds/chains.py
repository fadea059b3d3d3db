"""Visits in a row and visits in days, counted without a solver: days are bits of a whole number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from ortools.graph.python import max_flow


def lowest_bit(mask: int) -> int:
    """The position of the lowest bit; -1 for 0."""
    return (mask & -mask).bit_length() - 1


def _after(mask: int, low: int, high: int | None, end: int) -> int:
    """The days that lie at least `low` and at most `high` days after some day of the mask."""
    whole = (1 << (end + 1)) - 1
    if not mask:
        return 0
    if high is None or high > end:
        return whole & ~((1 << min(lowest_bit(mask) + low, end + 1)) - 1)
    found = 0
    for gap in range(low, high + 1):
        found |= mask << gap
    return found & whole


def _before(mask: int, low: int, high: int | None, end: int) -> int:
    """The days that lie at least `low` and at most `high` days before some day of the mask."""
    if not mask:
        return 0
    if high is None or high > end:
        return (1 << max(0, mask.bit_length() - low)) - 1
    found = 0
    for gap in range(low, high + 1):
        found |= mask >> gap
    return found


def chain_reach(
    masks: Sequence[int], spans: Sequence[tuple[int, int | None]], end: int
) -> tuple[int, ...] | None:
    """The days that visits in a row may take by day `end`, from each one's days and the gap before it.

    Days are bits. None where no chain exists.
    """
    whole = (1 << (end + 1)) - 1
    forward: list[int] = []
    for number, mask in enumerate(masks):
        usable = mask & whole
        if number:
            usable &= _after(forward[-1], *spans[number], end)
        if not usable:
            return None
        forward.append(usable)
    for number in range(len(masks) - 2, -1, -1):
        forward[number] &= _before(forward[number + 1], *spans[number + 1], end)
    return tuple(forward)


def _bits(mask: int, last: int) -> NDArray[np.uint8]:
    """The bits of the mask from 0 to `last`."""
    size = last // 8 + 1
    cut = (mask & ((1 << (last + 1)) - 1)).to_bytes(size, "little")
    return np.unpackbits(np.frombuffer(cut, np.uint8), bitorder="little")[: last + 1]


def wanted_by_day(masks: Mapping[int, int], last: int) -> NDArray[np.int64]:
    """For each day from 0 to `last`, how many visits may take it; `masks` counts the visits by their days."""
    found = np.zeros(last + 1, np.int64)
    for mask, count in masks.items():
        found += count * _bits(mask, last).astype(np.int64)
    return found


def most_by_flow(allowed: Sequence[int], room: Mapping[int, int]) -> int:
    """The most visits that fit, each on one of its days (bits), no day holding more than its room."""
    groups: dict[int, int] = {}
    for mask in allowed:
        groups[mask] = groups.get(mask, 0) + 1
    if not groups or not room:
        return 0
    days = np.array(sorted(room))
    may = np.stack([_bits(mask, int(days[-1])) for mask in groups])[:, days]
    rows, columns = np.nonzero(may)
    counts = np.fromiter(groups.values(), np.int64)
    first_day, first_group = 2, 2 + len(days)
    flow = max_flow.SimpleMaxFlow()
    all_groups = first_group + np.arange(len(counts))
    flow.add_arcs_with_capacity(np.zeros_like(all_groups), all_groups, counts)
    flow.add_arcs_with_capacity(first_group + rows, first_day + columns, counts[rows])
    all_days = first_day + np.arange(len(days))
    rooms = np.array([room[int(day)] for day in days], np.int64)
    flow.add_arcs_with_capacity(all_days, np.ones_like(all_days), rooms)
    if flow.solve(0, 1) != flow.OPTIMAL:
        raise RuntimeError("the flow of visits into days could not be solved")
    return int(flow.optimal_flow())
