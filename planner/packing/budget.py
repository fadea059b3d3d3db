"""How long a whole call may take, with what, and whom to tell.

With one worker time is counted by the work given out, not by the clock: the same files and seed then
give the same plan, however busy the machine is.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace

from planner.packing.progress import Report, Stop

COUNTED = 0.7  # of the seconds, as work for one worker: a machine that is not busy needs no more than them
DAY_VISIT_S = 0.07  # of work, for each visit of a day that is packed, beside the seconds that are given to it
LATEST = 4  # times the seconds: only then the clock ends what one worker does, and the plan may be another


class Clock:
    """What a budget goes by: the machine's monotonic clock, which nobody need tell of work."""

    def now(self) -> float:
        """Seconds from some moment."""
        return time.monotonic()

    def spend(self, seconds: float) -> None:
        """Takes in that work of so many seconds was given out."""


class Work(Clock):
    """Seconds of work given out so far."""

    def __init__(self) -> None:
        self.spent = 0.0

    def now(self) -> float:
        """The work so far."""
        return self.spent

    def spend(self, seconds: float) -> None:
        """Counts it."""
        self.spent += seconds


@dataclass(frozen=True)
class Budget:
    """How long, with what, and whom to tell. `last` is when the call must end, whatever was counted."""

    until: float  # on `clock`
    workers: int = 2
    report: Report | None = None
    stop: Stop | None = None
    clock: Clock = field(default_factory=Clock)
    last: float = float("inf")  # on the machine's monotonic clock

    @classmethod
    def of(cls, seconds: float, workers: int, report: Report | None, stop: Stop | None) -> Budget:
        """A budget that ends so many seconds from now, or for one worker with the work counted."""
        now = time.monotonic()
        if workers > 1:
            return cls(now + seconds, workers, report, stop)
        return cls(COUNTED * seconds, workers, report, stop, Work(), now + LATEST * seconds)

    @property
    def left_s(self) -> float:
        """Seconds that remain."""
        return max(0.0, self.until - self.clock.now())

    @property
    def is_over(self) -> bool:
        """Whether time is up, or somebody has asked to stop."""
        return self.left_s <= 0 or self.is_stopped()

    def is_stopped(self) -> bool:
        """Whether somebody has asked to stop, or the call must end."""
        return time.monotonic() > self.last or (self.stop is not None and self.stop())

    @property
    def stops(self) -> Stop | None:
        """What to ask while a solver runs."""
        return self.stop if self.last == float("inf") else self.is_stopped

    def part(self, seconds: float) -> Budget:
        """The same, ending so many seconds from now at the latest."""
        return replace(self, until=min(self.until, self.clock.now() + seconds))

    def spend(self, seconds: float) -> None:
        """Takes in that work of so many seconds was given out; says nothing where a clock runs."""
        self.clock.spend(seconds)

    def spend_on_day(self, seconds: float, visits: int) -> None:
        """Takes in that a day of so many visits was given that time."""
        self.spend(seconds + DAY_VISIT_S * visits)
