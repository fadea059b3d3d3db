"""What was recorded against what was planned, in order: extra, missing, repeated, swapped."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Generic, NamedTuple, TypeVar

Item = TypeVar("Item", bound=Hashable)


class Pair(NamedTuple):
    """Places of a planned item and of the recorded one it was matched with."""

    planned: int
    recorded: int


@dataclass(frozen=True, slots=True)
class Alignment:
    """The pairs, rising on both sides, and what their choice cost."""

    pairs: tuple[Pair, ...]
    cost: int


def align(
    planned: Sequence[Item],
    recorded: Sequence[Item],
    planned_weight: Sequence[int] | None = None,
    recorded_weight: Sequence[int] | None = None,
) -> Alignment:
    """The monotone alignment of least cost, by dynamic programming.

    Cost: a pair of equal items is free; unequal items are never paired; an item left without a
    partner costs its weight (1 where none is given; for a block, its number of efforts), on either
    side. Pairs do not cross. Among alignments of equal cost the one that pairs the earliest items
    is taken, so that of two equal recorded blocks the second counts as the repeated one.
    """
    if planned == recorded:
        return Alignment(tuple(Pair(i, i) for i in range(len(planned))), 0)
    ours = planned_weight or [1] * len(planned)
    theirs = recorded_weight or [1] * len(recorded)
    return _walk(planned, recorded, ours, theirs, _costs(planned, recorded, ours, theirs))


def _costs(
    planned: Sequence[Item], recorded: Sequence[Item], ours: Sequence[int], theirs: Sequence[int]
) -> list[list[int]]:
    """costs[i][j]: the least cost of aligning what is left from planned i and recorded j on."""
    costs = [[0] * (len(recorded) + 1) for _ in range(len(planned) + 1)]
    for j in range(len(recorded) - 1, -1, -1):
        costs[-1][j] = costs[-1][j + 1] + theirs[j]
    for i in range(len(planned) - 1, -1, -1):
        row, below = costs[i], costs[i + 1]
        row[-1] = below[-1] + ours[i]
        for j in range(len(recorded) - 1, -1, -1):
            row[j] = min(below[j] + ours[i], row[j + 1] + theirs[j])
            if planned[i] == recorded[j]:
                row[j] = min(row[j], below[j + 1])
    return costs


def _walk(
    planned: Sequence[Item],
    recorded: Sequence[Item],
    ours: Sequence[int],
    theirs: Sequence[int],
    costs: list[list[int]],
) -> Alignment:
    pairs: list[Pair] = []
    i = j = 0
    while i < len(planned) and j < len(recorded):
        if planned[i] == recorded[j] and costs[i][j] == costs[i + 1][j + 1]:
            pairs.append(Pair(i, j))
            i, j = i + 1, j + 1
        elif costs[i][j] == costs[i + 1][j] + ours[i]:
            i += 1
        else:
            j += 1
    return Alignment(tuple(pairs), costs[0][0])


@dataclass(frozen=True, slots=True)
class Found(Generic[Item]):
    """Recorded items by what became of them, as places in the recorded sequence; `missing` planned places.

    swapped: done, but not where the plan has it; repeated: done again after it was matched; extra:
    asked for nowhere.
    """

    matched: tuple[Pair, ...]
    swapped: tuple[Pair, ...]
    repeated: tuple[int, ...]
    extra: tuple[int, ...]
    missing: tuple[int, ...]
    weights: tuple[int, ...] = ()  # of the recorded items, as they were given


def find(
    planned: Sequence[Item],
    recorded: Sequence[Item],
    planned_weight: Sequence[int] | None = None,
    recorded_weight: Sequence[int] | None = None,
) -> Found[Item]:
    """Align, then say of everything left over what it is; planned items are distinct."""
    pairs = align(planned, recorded, planned_weight, recorded_weight).pairs
    open_places = {item: place for place, item in enumerate(planned)}
    known = set(open_places)
    for pair in pairs:
        del open_places[planned[pair.planned]]
    paired = {pair.recorded for pair in pairs}
    swapped: list[Pair] = []
    repeated: list[int] = []
    extra: list[int] = []
    for place, item in enumerate(recorded):
        if place in paired:
            continue
        if item in open_places:
            swapped.append(Pair(open_places.pop(item), place))
        else:
            (repeated if item in known else extra).append(place)
    missing = tuple(sorted(open_places.values()))
    weights = tuple(recorded_weight or ())
    return Found(pairs, tuple(swapped), tuple(repeated), tuple(extra), missing, weights)
