"""What the record teaches about lengths and spreads: `learn(study, happened) -> Learned`.

Every estimate is drawn towards what the protocol assumes: the assumption weighs as much as
`PRIOR_WEIGHT` observations (for a spread: degrees of freedom, that is efforts beyond the first of
each block). With n observations of mean m and an assumed value a, what is learned is
(PRIOR_WEIGHT * a + n * m) / (PRIOR_WEIGHT + n); for a spread the same holds of its square.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from planner.adherence.observed import Observed, Squares, observe
from planner.adherence.shares import Z_95
from planner.protocol.model import Manoeuvre, Protocol, Reading, Step
from planner.record.effort import Happened
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.learned import Estimate, Learned

PRIOR_WEIGHT = 20
_FEWEST_DF = 10  # below it the approximation of the range is more than 2 % off


class Lesson(NamedTuple):
    """One thing learned: assumed, seen (with its 95 % range; None of too few), and drawn together.

    `what`: spread, rest, preparing, clearing, length, delay; `of` the manoeuvre or step; values in `unit`.
    """

    what: str
    protocol: str
    of: str
    reading: str | None
    unit: str
    assumed: float
    seen: float
    low: float | None
    high: float | None
    learned: float
    observations: int

    @property
    def estimate(self) -> Estimate:
        """What timing takes over."""
        return Estimate(self.assumed, self.learned, self.observations)


def learn(study: Study, happened: Happened, schedule: Schedule | None = None) -> Learned:
    """Estimates for everything that the record holds an observation of; the rest stays as assumed.

    Give the plan that the visits kept to, so that waiting for a planned time is not learned as
    preparing or delay; clearing is learned from nothing else. Efforts stay as long as assumed.
    """
    found = lessons(study, happened, schedule)
    return Learned(
        spread={
            (one.protocol, one.of, one.reading): one.estimate for one in found if one.reading is not None
        },
        prepare_s=_of_kind("preparing", found),
        rest_s=_of_kind("rest", found),
        clear_s=_of_kind("clearing", found),
        bout_s=_of_kind("length", found),
        delay_s=_of_kind("delay", found),
    )


def _of_kind(what: str, found: tuple[Lesson, ...]) -> dict[tuple[str, str], Estimate]:
    return {(one.protocol, one.of): one.estimate for one in found if one.what == what}


def lessons(study: Study, happened: Happened, schedule: Schedule | None = None) -> tuple[Lesson, ...]:
    """Assumed against seen against learned, by protocol, then kind. Arguments as for `learn`."""
    seen = observe(study, happened, schedule)
    return tuple(lesson for protocol in study.protocols.values() for lesson in _of_protocol(protocol, seen))


def _of_protocol(protocol: Protocol, seen: Observed) -> Iterator[Lesson]:
    for manoeuvre in protocol.manoeuvres.values():
        key = (protocol.name, manoeuvre.id)
        for reading in manoeuvre.readings.values():
            if squares := seen.spread.get((*key, reading.name)):
                yield _spread(protocol, manoeuvre, reading, squares)
        yield from _mean("rest", key, manoeuvre.rest_s, seen.rest_s)
        yield from _mean("preparing", key, manoeuvre.prepare_s, seen.prepare_s)
        if manoeuvre.clear is not None:
            yield from _mean("clearing", key, manoeuvre.clear.takes_s, seen.clear_s)
    for step in protocol.visit:
        key = (protocol.name, step.id)
        yield from _mean("length", key, _assumed_length(step), seen.bout_s)
        yield from _mean("delay", key, 0, seen.delay_s)


def _assumed_length(step: Step) -> float:
    """The mean of the triangle shortest, about, longest; of a known length that length."""
    takes = step.takes
    return 0.0 if takes is None else (takes.shortest_s + takes.about_s + takes.longest_s) / 3


def _mean(
    what: str, key: tuple[str, str], assumed: float, seen: Mapping[tuple[str, str], list[float]]
) -> Iterator[Lesson]:
    values = seen.get(key)
    if not values:
        return
    count, mean = len(values), statistics.fmean(values)
    half = Z_95 * statistics.stdev(values) / math.sqrt(count) if count > 1 else None
    learned = (PRIOR_WEIGHT * assumed + count * mean) / (PRIOR_WEIGHT + count)
    low, high = (None, None) if half is None else (mean - half, mean + half)
    yield Lesson(what, *key, None, "s", assumed, mean, low, high, learned, count)


def _spread(protocol: Protocol, manoeuvre: Manoeuvre, reading: Reading, squares: Squares) -> Lesson:
    assert reading.typical is not None  # observed only where both are written
    assert reading.spread is not None
    scale = abs(float(reading.typical.value)) if reading.spread.is_percent else 1.0
    assumed = float(reading.spread.value) * (scale / 100 if reading.spread.is_percent else 1.0)
    variance = squares.total * scale**2 / squares.df
    low, high = _sd_range(math.sqrt(variance), squares.df)
    pooled = (PRIOR_WEIGHT * assumed**2 + squares.df * variance) / (PRIOR_WEIGHT + squares.df)
    return Lesson(
        "spread",
        protocol.name,
        manoeuvre.id,
        reading.name,
        reading.unit,
        assumed,
        math.sqrt(variance),
        low,
        high,
        math.sqrt(pooled),
        squares.efforts,
    )


def _sd_range(sd: float, df: int) -> tuple[float | None, float | None]:
    """The 95 % range of a standard deviation; None where so few efforts say next to nothing."""
    if df < _FEWEST_DF:
        return None, None
    low, high = (sd * math.sqrt(df / chi) for chi in _chi_squares(df))
    return low, high


def _chi_squares(df: int) -> tuple[float, float]:
    """The 97.5 % and 2.5 % points of chi-square by the cube of Wilson and Hilferty (PNAS 1931;17:684)."""
    spread = Z_95 * math.sqrt(2 / (9 * df))
    middle = 1 - 2 / (9 * df)
    return df * (middle + spread) ** 3, df * (middle - spread) ** 3
