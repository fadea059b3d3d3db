"""Shares with their 95 % Wilson intervals."""

from __future__ import annotations

import math
from typing import NamedTuple

Z_95 = 1.959963984540054  # the 97.5 % point of the standard normal distribution


def wilson(kept: int, of: int, z: float = Z_95) -> tuple[float, float] | None:
    """Lower and upper end of Wilson's score interval for a share; None where `of` is 0.

    Wilson 1927, as method 3 of Newcombe, Stat Med 1998;17:857-872.
    """
    if of == 0:
        return None
    share = kept / of
    half = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    middle, whole = share + z * z / (2 * of), 1 + z * z / of
    low = 0.0 if kept == 0 else (middle - half) / whole
    high = 1.0 if kept == of else (middle + half) / whole
    return low, high


def percent(share: float) -> str:
    """The share of 100 in whole numbers; 0 and 100 only where nothing and everything is meant."""
    words = f"{100 * share:.0f}"
    if words == "100" and share < 1:
        return f"{min(100 * share, 99.9):.1f}"
    return f"{max(100 * share, 0.1):.1f}" if words in ("0", "-0") and share > 0 else words


class Share(NamedTuple):
    """So many of so many."""

    kept: int
    of: int

    @property
    def share(self) -> float | None:
        """The share; None of nothing."""
        return self.kept / self.of if self.of else None

    @property
    def low(self) -> float | None:
        """Lower end of its 95 % interval; None of nothing."""
        found = wilson(self.kept, self.of)
        return found[0] if found else None

    @property
    def high(self) -> float | None:
        """Upper end of its 95 % interval; None of nothing."""
        found = wilson(self.kept, self.of)
        return found[1] if found else None

    def as_json(self) -> dict[str, float | None]:
        """share, low, high."""
        return {"share": self.share, "low": self.low, "high": self.high}

    def words(self) -> str:
        """`45 of 50 (90 %, 95 % range 79 to 96 %)`."""
        found = wilson(self.kept, self.of)
        if found is None:
            return "none to judge"
        low, high = map(percent, found)
        return f"{self.kept} of {self.of} ({percent(self.kept / self.of)} %, 95 % range {low} to {high} %)"
