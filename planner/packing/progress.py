"""What a solve tells while it runs: one small value, handed to one callback."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a solve stands.

    `stage` names what is being improved; `placed` counts visits with a place in the best plan so far;
    `best` and `bound` are the stage's value and its proven bound (None: not known yet), in the unit of
    the stage's name; `left_s` is the time that remains.
    """

    stage: str
    placed: int
    best: int | None
    bound: int | None
    left_s: float


Report = Callable[[Progress], None]
Stop = Callable[[], bool]
