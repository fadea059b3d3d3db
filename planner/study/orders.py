"""Who meets the conditions in which order: Williams designs, dealt out by the seed before packing."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence


def williams(conditions: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """The sequences of a Williams design for that many conditions: n for even n, 2n for odd n above 1.

    Every condition stands equally often in each place, and every condition directly follows each
    other one equally often (Williams 1949, Aust J Sci Res A 2:149-168).
    """
    n = len(conditions)
    first = [0]
    for step in range(1, n):
        first.append(step // 2 + 1 if step % 2 else n - step // 2)
    square = [tuple(conditions[(place + shift) % n] for place in first) for shift in range(n)]
    mirrored = [row[::-1] for row in square] if n % 2 and n > 1 else []
    return tuple(square + mirrored)


def orders(
    participants: Sequence[str],
    conditions: Sequence[str],
    seed: int,
    groups: Mapping[str, str] | None = None,
) -> dict[str, tuple[str, ...]]:
    """Each participant's sequence of conditions.

    Within each group every sequence is used as often as any other, or once less. The sequences are
    dealt in rounds, each round in an order of its own drawn from the seed; so the order of whoever
    is listed already stays the same when a participant is added to the end of the table.
    """
    sequences = williams(conditions)
    found: dict[str, tuple[str, ...]] = {}
    dealt: dict[str, int] = {}
    rounds: dict[tuple[str, int], list[tuple[str, ...]]] = {}
    for participant in participants:
        group = (groups or {}).get(participant, "")
        number = dealt.get(group, 0)
        dealt[group] = number + 1
        turn = (group, number // len(sequences))
        if turn not in rounds:
            rounds[turn] = _shuffled(sequences, f"{seed}|{group}|{turn[1]}")
        found[participant] = rounds[turn][number % len(sequences)]
    return found


def _shuffled(sequences: Sequence[tuple[str, ...]], key: str) -> list[tuple[str, ...]]:
    """The sequences in an order that depends on the key alone, on every machine and version."""

    def draw(sequence: tuple[str, ...]) -> bytes:
        return hashlib.sha256(f"{key}|{'/'.join(sequence)}".encode()).digest()

    return sorted(sequences, key=draw)
