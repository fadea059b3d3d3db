"""When rigs and people are not there: the gaps between their free times, one by one and counted together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise

from planner.packing.core import Span


def away(free: Sequence[Span], far: int) -> list[Span]:
    """All but the free times, from `far` before the opening to `far` after it; `free` is in order."""
    edges = [-far, *(edge for span in free for edge in span), far]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if a < b]


def counted_together(spans: Iterable[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """Spans with a number each as one profile: from when to when how many; nothing where there are none."""
    change: dict[int, int] = defaultdict(int)
    for start, end, many in spans:
        change[start] += many
        change[end] -= many
    level, profile = 0, []
    for start, end in pairwise(sorted(change)):
        level += change[start]
        if level:
            profile.append((start, end, level))
    return profile
