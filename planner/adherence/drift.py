"""Is the study drifting? The trend of the share on time, and of lateness, over the weeks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from planner.adherence.groups import judged
from planner.adherence.model import Adherence, Kept, PointLine

_ENOUGH = 10  # fewer time points, or fewer than three different days, say nothing about a trend
_DAYS = 3


@dataclass(frozen=True, slots=True)
class Drift:
    """The trend of the share (`z`, `p` of the Cochran-Armitage test) and of lateness in seconds a week.

    `late_s_a_week` is the median slope between any two time points of one kind (Theil-Sen).
    None: too little to tell.
    """

    z: float | None
    p: float | None
    late_s_a_week: float | None
    words: str


def drift(found: Adherence) -> Drift:
    """Both trends over the dates of the time points, and a plain sentence."""
    days = {line.key: line.happened.date() for line in found.visits if line.happened}
    points = [(days[point.key], point) for point in judged(found) if point.key in days]
    if len(points) < _ENOUGH or len({day for day, _ in points}) < _DAYS:
        few = f"Too little to tell whether the study drifts: {len(points)} time points"
        return Drift(None, None, None, f"{few} on {len({day for day, _ in points})} days.")
    kept = np.array([point.kept is Kept.ON_TIME for _, point in points], dtype=float)
    ordinal = np.array([day.toordinal() for day, _ in points], dtype=float)
    z = trend(kept, ordinal)
    slope = _late_slope(points)
    p = None if z is None else math.erfc(abs(z) / math.sqrt(2))
    return Drift(z, p, slope, _words(z, p, slope))


def trend(kept: np.ndarray, scores: np.ndarray) -> float | None:
    """z of the Cochran-Armitage test for a trend of a share over scores; None where nothing varies.

    Armitage P, Biometrics 1955;11:375-386 (from memory); independence of the time points is assumed.
    """
    share = kept.mean()
    spread = ((scores - scores.mean()) ** 2).sum() * share * (1 - share)
    if spread == 0:
        return None
    return float(((kept - share) * (scores - scores.mean())).sum() / math.sqrt(spread))


def _late_slope(points: list[tuple[date, PointLine]]) -> float | None:
    """The median over kinds of time points of the Theil-Sen slope of seconds late over weeks."""
    kinds: dict[tuple[str, int], list[tuple[float, float]]] = {}
    for day, point in points:
        if point.happened_after_s is not None:
            sign = -1 if point.side == "before" else 1
            late_s = sign * (point.happened_after_s - point.at_s)
            kinds.setdefault((point.step, point.at_s), []).append((day.toordinal() / 7, late_s))
    slopes = [slope for pairs in kinds.values() if (slope := theil_sen(pairs)) is not None]
    return float(np.median(slopes)) if slopes else None


def theil_sen(pairs: list[tuple[float, float]], most: int = 1500) -> float | None:
    """The median slope over all pairs of different days (of evenly chosen ones where there are many)."""
    step = max(1, math.ceil(len(pairs) / most))
    x, y = np.array(sorted(pairs)[::step], dtype=float).T
    rows, columns = np.triu_indices(len(x), 1)
    apart = x[columns] - x[rows]
    slopes = (y[columns] - y[rows])[apart > 0] / apart[apart > 0]
    return float(np.median(slopes)) if slopes.size else None


def _words(z: float | None, p: float | None, slope: float | None) -> str:
    if z is None or p is None:
        share = "The share on time did not change."
    elif p < 0.05:
        share = f"The share on time {'rises' if z > 0 else 'falls'} over the weeks (p = {p:.3f})."
    else:
        share = f"No sign that the share on time changes over the weeks (p = {p:.2f})."
    if slope is None:
        return share
    way = "later" if slope > 0 else "earlier"
    moved = "neither earlier nor later" if round(slope) == 0 else f"{abs(slope):.0f} s {way} each week"
    return f"{share} Time points are measured {moved}{'' if round(slope) else ' than before'}."
