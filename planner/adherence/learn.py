"""What the record teaches about lengths and spreads: `learn(study, happened) -> Learned`.

Every estimate is drawn towards what the protocol assumes: the assumption weighs as much as
`PRIOR_WEIGHT` observations (for a spread: degrees of freedom, that is efforts beyond the first of
each block). With n observations of mean m and an assumed value a, what is learned is
(PRIOR_WEIGHT * a + n * m) / (PRIOR_WEIGHT + n); for a spread the same holds of its square. How late
things begin is learned whole, not as a mean alone: what simulations draw are the observations
themselves, with the assumption among them PRIOR_WEIGHT times.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Mapping, Sequence
from itertools import accumulate, pairwise
from typing import NamedTuple

from planner.adherence.observed import Observed, Squares, observe
from planner.adherence.ranges import Seen, mean_range, sd_range
from planner.protocol.model import Manoeuvre, Protocol, Reading, Step
from planner.record.effort import Happened
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.learned import Estimate, Learned

PRIOR_WEIGHT = 20
MOST_DRAWN = 200
NOT_LEARNED = (
    "The record tells when efforts begin, not when they end: an effort counts as long as the protocol says, "
    "and a longer one shows as a longer rest. Warming up a device before its first use of a day is not "
    "recorded, so that nothing is learned of it."
)


class Lesson(NamedTuple):
    """One thing learned: assumed, seen (with its 95 % range; None of too few), and drawn together.

    The range of a mean takes participants as clusters.
    `what`: spread, rest, preparing, clearing, length, delay, lateness; `of` the manoeuvre or step;
    values in `unit`. `drawn` as in `Estimate`, of delays and lateness.
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
    participants: int
    drawn: tuple[float, ...] = ()

    @property
    def estimate(self) -> Estimate:
        """What timing takes over."""
        return Estimate(self.assumed, self.learned, self.observations, self.drawn)


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
        late_s=_of_kind("lateness", found),
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
        for what, lengths in (("delay", seen.delay_s), ("lateness", seen.late_s)):
            for lesson in _mean(what, key, 0, lengths):
                yield lesson._replace(drawn=stand_ins([one.value for one in lengths[key]], 0.0))


def _assumed_length(step: Step) -> float:
    """The mean of the triangle shortest, about, longest; of a known length that length."""
    takes = step.takes
    return 0.0 if takes is None else (takes.shortest_s + takes.about_s + takes.longest_s) / 3


def _mean(
    what: str, key: tuple[str, str], assumed: float, seen: Mapping[tuple[str, str], list[Seen]]
) -> Iterator[Lesson]:
    values = seen.get(key)
    if not values:
        return
    count, mean = len(values), statistics.fmean(one.value for one in values)
    learned = (PRIOR_WEIGHT * assumed + count * mean) / (PRIOR_WEIGHT + count)
    low, high = mean_range(values)
    people = len({one.who for one in values})
    yield Lesson(what, *key, None, "s", assumed, mean, low, high, learned, count, people)


def stand_ins(values: Sequence[float], assumed: float) -> tuple[float, ...]:
    """At most `MOST_DRAWN` equally likely values for these, the assumption among them as often as it weighs.

    Of more, each stands for an equal share of them in order of size, and is that share's mean; so
    the mean of all stays what is learned (to a hundredth).
    """
    whole = sorted([*values, *[assumed] * PRIOR_WEIGHT])
    if len(whole) <= MOST_DRAWN:
        return tuple(whole)
    sums = [0.0, *accumulate(whole)]
    share = len(whole) / MOST_DRAWN

    def sum_to(place: float) -> float:
        full = min(int(place), len(whole) - 1)
        return sums[full] + (place - full) * whole[full]

    cuts = [sum_to(share * n) for n in range(MOST_DRAWN + 1)]
    return tuple(round((after - before) / share, 2) for before, after in pairwise(cuts))


def _spread(protocol: Protocol, manoeuvre: Manoeuvre, reading: Reading, squares: Squares) -> Lesson:
    assert reading.typical is not None  # observed only where both are written
    assert reading.spread is not None
    scale = abs(float(reading.typical.value)) if reading.spread.is_percent else 1.0
    assumed = float(reading.spread.value) * (scale / 100 if reading.spread.is_percent else 1.0)
    variance = squares.total * scale**2 / squares.df
    low, high = sd_range(math.sqrt(variance), squares.df)
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
        len(squares.people),
    )
