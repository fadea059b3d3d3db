"""Visits in a row and visits in days, counted without a solver: days are bits of a whole number."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

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


def most_by_flow(allowed: Sequence[int], room: Mapping[int, int]) -> int:
    """The most visits that fit, each on one of its days (bits), no day holding more than its room."""
    groups: dict[int, int] = {}
    for mask in allowed:
        groups[mask] = groups.get(mask, 0) + 1
    if not groups or not room:
        return 0
    flow = max_flow.SimpleMaxFlow()
    nodes = {day: 2 + number for number, day in enumerate(sorted(room))}
    for number, (mask, count) in enumerate(groups.items()):
        node = 2 + len(nodes) + number
        flow.add_arc_with_capacity(0, node, count)
        for day, day_node in nodes.items():
            if mask >> day & 1:
                flow.add_arc_with_capacity(node, day_node, count)
    for day, node in nodes.items():
        flow.add_arc_with_capacity(node, 1, room[day])
    if flow.solve(0, 1) != flow.OPTIMAL:
        raise RuntimeError("the flow of visits into days could not be solved")
    return int(flow.optimal_flow())
