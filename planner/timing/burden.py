"""What a visit asks of the participant: `burden(protocol) -> Burden`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from planner.protocol.model import Manoeuvre, Protocol
from planner.timing.bounds import lengths_of, longest_s, most_efforts, shortest_s
from planner.timing.expand import Outline, Spot, expand
from planner.timing.plan import Kind
from planner.timing.sequence import Lengths, Pick, earliest, end_of_visit, latest, routine, start_times
from planner.timing.simulate import Draws, simulate


@dataclass(frozen=True, slots=True)
class Span:
    """One figure for the shortest visit, on average over simulated visits, and for the longest visit."""

    least: float
    expected: float
    most: float

    def times(self, number: int) -> Span:
        """The span of so many visits."""
        return Span(self.least * number, self.expected * number, self.most * number)

    def plus(self, other: Span) -> Span:
        """Both together."""
        return Span(self.least + other.least, self.expected + other.expected, self.most + other.most)


@dataclass(frozen=True, slots=True)
class Burden:
    """Maximal efforts, and seconds: the whole visit and what it consists of.

    `efforts` counts the efforts of every block. `mouthpiece_s` is the time of the efforts themselves,
    `rest_s` the rests between efforts and the steps that are rests, `waiting_s` what remains when
    preparing, efforts, rests, exercise and tasks are taken away. Blocks inside a bout count as
    efforts, and their bout's time as exercise as well; waiting counts them once.
    """

    efforts: Span
    visit_s: Span
    mouthpiece_s: Span
    exercise_s: Span
    rest_s: Span
    waiting_s: Span

    def as_json(self) -> dict[str, dict[str, float]]:
        """Each span as least, expected, most."""
        return {
            field.name: {
                "least": getattr(self, field.name).least,
                "expected": round(getattr(self, field.name).expected, 2),
                "most": getattr(self, field.name).most,
            }
            for field in fields(self)
        }


def burden(protocol: Protocol, *, seed: int = 1) -> Burden:
    """The burden of one visit."""
    draws = simulate(protocol, seed=seed)
    short, long = _bound(protocol, shortest=True), _bound(protocol, shortest=False)
    mean = _Figures(
        efforts=_mean(_efforts(draws)),
        visit_s=float(draws.visit_s.mean()),
        mouthpiece_s=_mean(_block_seconds(draws, of="effort")),
        exercise_s=float(sum(draws.lengths_s[i].mean() for i in _bouts(draws.outline))),
        rest_s=_mean(_block_seconds(draws, of="rest")) + _rest_steps(draws.outline),
        busy_s=float(sum(draws.lengths_s[i].mean() for i in draws.outline.chain)),
    )
    found = [
        Span(getattr(short, name), getattr(mean, name), getattr(long, name))
        for name in ("efforts", "visit_s", "mouthpiece_s", "exercise_s", "rest_s", "waiting_s")
    ]
    return Burden(*found)


def study_burden(visits: Sequence[tuple[Protocol, int]], *, seed: int = 1) -> Burden:
    """The burden of a whole study for one participant: so many visits of each protocol."""
    if not visits:
        raise ValueError("a study without visits has no burden")
    found = [(burden(protocol, seed=seed), number) for protocol, number in visits]
    total = []
    for field in fields(Burden):
        spans = [getattr(one, field.name).times(number) for one, number in found]
        whole = spans[0]
        for span in spans[1:]:
            whole = whole.plus(span)
        total.append(whole)
    return Burden(*total)


@dataclass(frozen=True, slots=True)
class _Figures:
    efforts: float
    visit_s: float
    mouthpiece_s: float
    exercise_s: float
    rest_s: float
    busy_s: float  # everything on the chain, one after the other

    @property
    def waiting_s(self) -> float:
        return max(0, self.visit_s - self.busy_s)


def _bound(protocol: Protocol, *, shortest: bool) -> _Figures:
    """The figures of the shortest or the longest visit."""
    outline = expand(protocol)
    length, distance = (shortest_s, earliest) if shortest else (longest_s, latest)
    lengths = lengths_of(outline, length)
    ready = routine(outline)
    starts = start_times(ready, lengths, distance, Pick())
    # What a bout reaches is judged at its quickest: a time point kept late must not hide an effort.
    quick = lengths_of(outline, lambda spot: shortest_s(spot) if spot.manoeuvre else length(spot))
    counts = _bound_counts(outline, start_times(ready, quick, earliest, Pick()), quick, shortest=shortest)
    return _Figures(
        efforts=sum(counts.values()),
        visit_s=end_of_visit(outline, starts, lengths, Pick()),
        mouthpiece_s=sum(_seconds(outline.spots[i], n, "effort") for i, n in counts.items()),
        exercise_s=sum(length(outline.spots[i]) for i in _bouts(outline)),
        rest_s=sum(_seconds(outline.spots[i], n, "rest") for i, n in counts.items()) + _rest_steps(outline),
        busy_s=sum(lengths.whole[i] for i in outline.chain),
    )


def _bound_counts(
    outline: Outline, starts: Sequence[int], lengths: Lengths, *, shortest: bool
) -> dict[int, int]:
    """The least or most efforts of each block that is reached; inside a bout no more than fit into it."""
    found = {}
    for spot in outline.spots:
        if spot.manoeuvre is None:
            continue
        efforts = spot.manoeuvre.at_least if shortest else most_efforts(spot.manoeuvre)
        if spot.inside is not None and spot.falls_away:
            ends = starts[spot.inside] + lengths.whole[spot.inside]
            efforts = min(efforts, _that_fit(spot.manoeuvre, ends - starts[spot.index]))
            if efforts < spot.manoeuvre.at_least:
                continue
        found[spot.index] = efforts
    return found


def _that_fit(manoeuvre: Manoeuvre, seconds: int) -> int:
    """How many efforts a block of that many seconds can hold."""
    left_s = seconds - manoeuvre.prepare_s + manoeuvre.rest_s
    return int(left_s // (manoeuvre.effort_s + manoeuvre.rest_s))


def _seconds(spot: Spot, efforts: int, of: str) -> int:
    manoeuvre = spot.manoeuvre
    if manoeuvre is None:
        return 0
    return efforts * manoeuvre.effort_s if of == "effort" else (efforts - 1) * manoeuvre.rest_s


def _bouts(outline: Outline) -> list[int]:
    return [i for i in outline.chain if outline.spots[i].kind is Kind.BOUT]


def _rest_steps(outline: Outline) -> int:
    return sum(spot.step.rest_s or 0 for spot in outline.spots if spot.kind is Kind.REST)


def _efforts(draws: Draws) -> list[np.ndarray]:
    return [draws.efforts[i] * draws.is_measured(i) for i in _blocks(draws.outline)]


def _block_seconds(draws: Draws, *, of: str) -> list[np.ndarray]:
    found = []
    for index in _blocks(draws.outline):
        manoeuvre = draws.outline.spots[index].manoeuvre
        if manoeuvre is not None:
            count = draws.efforts[index].astype(np.float64)
            seconds = count * manoeuvre.effort_s if of == "effort" else (count - 1) * manoeuvre.rest_s
            found.append(seconds * draws.is_measured(index))
    return found


def _blocks(outline: Outline) -> list[int]:
    return [spot.index for spot in outline.spots if spot.manoeuvre]


def _mean(rows: list[np.ndarray]) -> float:
    return float(sum(row.mean() for row in rows))
