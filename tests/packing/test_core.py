"""Distances that follow from gaps."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from planner.packing.core import Gap, closure


def test_distances_of_a_worked_example() -> None:
    """John and Fred: t1 10..20, t2 40..50, t3 20..30, t4 60..70 (Dechter, Meiri, Pearl 1991; from memory)."""
    gaps = [
        Gap(0, 1, 10, 20),
        Gap(1, 2, 30, 40),
        Gap(3, 2, 10, 20),
        Gap(3, 4, 40, 50),
        Gap(0, 4, 60, 70),
    ]
    found = closure(5, gaps)
    assert found is not None
    least = [found.at_least(0, i) for i in range(1, 5)]
    most = [-(found.at_least(i, 0) or 0) for i in range(1, 5)]
    assert (least, most) == ([10, 40, 20, 60], [20, 50, 30, 70])


def test_a_positive_cycle_is_no_distance() -> None:
    assert closure(2, [Gap(0, 1, 5), Gap(1, 0, -4)]) is None


@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4), st.integers(-20, 20)), max_size=12))
def test_distances_are_the_longest_paths(edges: list[tuple[int, int, int]]) -> None:
    """Against Bellman and Ford's relaxation, which shares no code with the closure."""
    gaps = [Gap(a, b, low) for a, b, low in edges if a != b]
    found = closure(5, gaps)
    for source in range(5):
        best: list[int | None] = [0 if i == source else None for i in range(5)]
        for _ in range(5):
            for gap in gaps:
                here, there = best[gap.earlier], best[gap.later]
                if here is not None and (there is None or here + gap.low > there):
                    best[gap.later] = here + gap.low
        grows = any(
            (here := best[g.earlier]) is not None
            and ((there := best[g.later]) is None or here + g.low > there)
            for g in gaps
        )
        if found is None:
            continue
        assert not grows
        assert best == [found.at_least(source, i) for i in range(5)]
