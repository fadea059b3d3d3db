"""Rounding is exact where it can be, and safe where it cannot."""

from __future__ import annotations

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from planner.clock import Interval, later
from planner.packing.grid import Grid, Side, finest_step, on_grid

OPENING = datetime(2027, 3, 1, 8, tzinfo=UTC)


@given(st.integers(-100_000, 100_000), st.integers(1, 600))
def test_lengths_grow_and_greatest_distances_shrink(seconds: int, step_s: int) -> None:
    assert 0 <= on_grid(seconds, step_s, Side.UP) * step_s - seconds < step_s
    assert 0 <= seconds - on_grid(seconds, step_s, Side.DOWN) * step_s < step_s


@given(st.lists(st.integers(0, 50_000), min_size=1))
def test_the_finest_step_loses_nothing(seconds: list[int]) -> None:
    step_s = finest_step(seconds)
    assert all(second % step_s == 0 for second in seconds)
    assert all(on_grid(s, step_s, Side.UP) == on_grid(s, step_s, Side.DOWN) for s in seconds)


@given(st.integers(0, 30_000), st.integers(1, 30_000), st.integers(1, 300))
def test_free_time_is_rounded_inward_and_taken_time_outward(start: int, length: int, step_s: int) -> None:
    grid = Grid(OPENING, step_s)
    interval = Interval(later(OPENING, start), later(OPENING, start + length))
    inner, outer = grid.inward(interval), grid.outward(interval)
    assert grid.moment(outer[0]) <= interval.start <= grid.moment(inner[0])
    assert grid.moment(inner[1]) <= interval.end <= grid.moment(outer[1])


def test_steps_are_real_seconds_when_clocks_change() -> None:
    """In Oslo the clock jumps from 2:00 to 3:00 on 28 March 2027 (read in the tz database)."""
    from planner.clock import zone

    grid = Grid(datetime(2027, 3, 28, 1, 30, tzinfo=zone("Europe/Oslo")), 60)
    assert grid.moment(60).isoformat() == "2027-03-28T03:30:00+02:00"
