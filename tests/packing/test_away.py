"""When nobody is there: held against every single moment, counted one by one."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from planner.packing.away import away, counted_together

FAR = 40
SPANS = st.lists(st.tuples(st.integers(0, 20), st.integers(1, 9), st.integers(1, 3)), max_size=6)
CUTS = st.lists(st.integers(-5, 25), max_size=8, unique=True).map(sorted)


@given(CUTS)
def test_every_moment_is_either_free_or_away(cuts: list[int]) -> None:
    free = list(zip(cuts[::2], cuts[1::2], strict=False))
    for moment in range(-FAR, FAR):
        is_free = any(a <= moment < b for a, b in free)
        assert sum(a <= moment < b for a, b in away(free, FAR)) == (not is_free)


@given(SPANS)
def test_at_every_moment_as_many_are_counted_as_there_are(spans: list[tuple[int, int, int]]) -> None:
    its = [(start, start + length, many) for start, length, many in spans]
    profile = counted_together(its)
    for moment in range(-1, 31):
        level = sum(many for a, b, many in profile if a <= moment < b)
        assert level == sum(many for a, b, many in its if a <= moment < b)
    assert all(a < b and many > 0 for a, b, many in profile)
