"""The day in whole steps: the one place where a time is rounded.

The step is the greatest common divisor of every length, window and clock time of the day, so nothing
is lost: distances that are multiples of the step have an optimal schedule on multiples of the step
(a system of differences has whole solutions). A coarser step may be asked for to find plans sooner;
lengths then grow and windows shrink, so what fits on the coarse grid fits in seconds as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from math import gcd

from planner.clock import Interval, later, seconds_between


class Side(Enum):
    """Which way is safe: a length or the least distance goes up, the greatest distance down."""

    UP = 1
    DOWN = -1


def on_grid(seconds: int, step_s: int, side: Side) -> int:
    """That many seconds as whole steps, rounded to the safe side; exact where the step divides them."""
    return -(-seconds // step_s) if side is Side.UP else seconds // step_s


def finest_step(seconds: Iterable[int]) -> int:
    """The coarsest step that loses nothing: the greatest common divisor, at least 1 s."""
    return gcd(*seconds) or 1


@dataclass(frozen=True, slots=True)
class Grid:
    """Steps of `step_s` seconds, counted from `origin`."""

    origin: datetime
    step_s: int

    def up(self, seconds: int) -> int:
        """Steps of a length or of a least distance."""
        return on_grid(seconds, self.step_s, Side.UP)

    def down(self, seconds: int) -> int:
        """Steps of a greatest distance."""
        return on_grid(seconds, self.step_s, Side.DOWN)

    def inward(self, interval: Interval) -> tuple[int, int]:
        """First and last step of a time that may be used."""
        start_s, end_s = (seconds_between(self.origin, moment) for moment in interval)
        return self.up(start_s), self.down(end_s)

    def outward(self, interval: Interval) -> tuple[int, int]:
        """First and last step of a time that is taken."""
        start_s, end_s = (seconds_between(self.origin, moment) for moment in interval)
        return self.down(start_s), self.up(end_s)

    def moment(self, step: int) -> datetime:
        """The instant of a step."""
        return later(self.origin, step * self.step_s)
