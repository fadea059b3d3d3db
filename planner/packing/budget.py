"""How long a whole call may take, with what, and whom to tell."""

from __future__ import annotations

import time
from dataclasses import dataclass

from planner.packing.progress import Report, Stop


@dataclass(frozen=True)
class Budget:
    """How long, with what, and whom to tell."""

    until: float  # on the monotonic clock
    workers: int = 2
    report: Report | None = None
    stop: Stop | None = None

    @property
    def left_s(self) -> float:
        """Seconds that remain."""
        return max(0.0, self.until - time.monotonic())

    @property
    def is_over(self) -> bool:
        """Whether time is up, or somebody has asked to stop."""
        return self.left_s <= 0 or (self.stop is not None and self.stop())
