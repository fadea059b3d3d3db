"""95 % ranges of a mean and of a standard deviation, by formulas that need no library."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from planner.adherence.shares import Z_95

FEWEST_DF = 10  # below it the approximation of a standard deviation's range is more than 2 % off
_EXACT_T = {1: 12.706204736174698, 2: 4.302652729749462}


class Seen(NamedTuple):
    """One observation, and the participant whom it was made of."""

    value: float
    who: str


class Range(NamedTuple):
    """Lower and upper end; both None where there is too little to tell."""

    low: float | None
    high: float | None


def mean_range(seen: Sequence[Seen]) -> Range:
    """The 95 % range of the mean, participants taken as clusters: one person's efforts are not independent.

    The sum of a participant's distances from the mean counts as one observation, with Student's t of
    one degree of freedom less than participants (Liang & Zeger, Biometrika 1986;73:13, from memory);
    with one observation each it is the textbook range. None with fewer than two participants.
    """
    mean = math.fsum(one.value for one in seen) / len(seen)
    sums: dict[str, float] = {}
    for one in seen:
        sums[one.who] = sums.get(one.who, 0.0) + one.value - mean
    count = len(sums)
    if count < 2:
        return Range(None, None)
    error = math.sqrt(count / (count - 1) * math.fsum(each**2 for each in sums.values())) / len(seen)
    half = t_95(count - 1) * error
    return Range(mean - half, mean + half)


def t_95(df: int) -> float:
    """The 97.5 % point of Student's t, within 0.2 %.

    Exact for 1 and 2, else by the expansion in powers of 1/df (Abramowitz & Stegun 26.7.5, from memory).
    """
    if df in _EXACT_T:
        return _EXACT_T[df]
    z = Z_95
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + math.fsum(term / float(df**power) for power, term in enumerate(terms, start=1))


def sd_range(sd: float, df: int) -> Range:
    """The 95 % range of a standard deviation; None where so few efforts say next to nothing."""
    if df < FEWEST_DF:
        return Range(None, None)
    low, high = (sd * math.sqrt(df / chi) for chi in chi_squares(df))
    return Range(low, high)


def chi_squares(df: int) -> tuple[float, float]:
    """The 97.5 % and 2.5 % points of chi-square by the cube of Wilson and Hilferty (PNAS 1931;17:684)."""
    spread = Z_95 * math.sqrt(2 / (9 * df))
    middle = 1 - 2 / (9 * df)
    return df * (middle + spread) ** 3, df * (middle - spread) ** 3
