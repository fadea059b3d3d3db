"""Seeded draws of whole visits: `simulate(protocol, seed=1, draws=20_000) -> Draws`."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.protocol.model import KeyPath, Length, Manoeuvre, Protocol
from planner.timing.efforts import Ends, Spread, draw_ends, spread_of
from planner.timing.expand import Outline, Spot, expand
from planner.timing.lay_out import about_s, learned_times
from planner.timing.learned import Estimate, Learned
from planner.timing.plan import Link
from planner.timing.sequence import (
    Lengths,
    Pick,
    Routine,
    end_of_visit,
    moment_of,
    routine,
    start_times,
    written,
)

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Taught = Mapping[tuple[str, str], Estimate]
_ARRAYS = Pick(np.maximum, np.minimum)
_CHUNK = 32_768  # draws that are played at a time: their arrays stay in the processor's cache
_A_HAIR = 1e-6  # seconds; windows include both ends, and sums of floats may miss them by less


@dataclass(frozen=True)
class Chance:
    """A share of draws and its Monte Carlo standard error."""

    share: float
    error: float
    draws: int


@dataclass(frozen=True)
class Draws:
    """Drawn visits. Arrays have one row a spot or window of `outline` and one column a draw.

    `prepare_s` (one a spot), `starts_s` and `lengths_s` are seconds; `efforts` is 0 on spots without
    efforts; `agreed` tells whether the block ended by its rule; `on_time` and `reached` have
    a row a window; a time point not reached (`if_reached`) does not count. `visit_s`: each visit's length.
    """

    outline: Outline
    prepare_s: tuple[int, ...]
    starts_s: Floats
    lengths_s: Floats
    efforts: NDArray[np.int16]
    agreed: Flags
    on_time: Flags
    reached: Flags
    visit_s: Floats

    def chance(self, window: int) -> Chance | None:
        """The chance that a time point is on time, of those reached; None where none was."""
        counted = int(self.reached[window].sum())
        if counted == 0:
            return None
        return chance_of(int((self.on_time[window] & self.reached[window]).sum()), counted)

    def chance_of_all(self) -> Chance:
        """The chance that every time point reached is on time."""
        kept = (self.on_time | ~self.reached).all(axis=0)
        return chance_of(int(kept.sum()), kept.size)

    def chance_of_links(self, links: Sequence[Link]) -> Chance:
        """The chance that the distances of all these links are kept."""
        kept = np.ones(self.visit_s.size, np.bool_)
        for link in links:
            kept &= _within(link, self.gap_s(link))
        return chance_of(int(kept.sum()), kept.size)

    def gap_s(self, link: Link) -> Floats:
        """The drawn seconds between the two moments of a link."""
        lengths, starts = Lengths(self.prepare_s, list(self.lengths_s), ()), list(self.starts_s)
        gap: Floats = moment_of(starts, lengths, *link.later) - moment_of(starts, lengths, *link.earlier)
        return gap

    def is_measured(self, spot: int) -> Flags:
        """In which draws a block is measured at all: everywhere, unless its bout does not reach it."""
        if not self.outline.spots[spot].falls_away:
            return np.ones(self.visit_s.size, np.bool_)
        rows = window_paths(self.outline)
        reached: Flags = self.reached[rows[self.outline.spots[spot].path]]
        return reached

    def quantile_s(self, share: float) -> int:
        """The visit length that this share of the draws does not exceed, in whole seconds, rounded up."""
        return math.ceil(float(np.quantile(self.visit_s, share, method="inverted_cdf")) - _A_HAIR)


def chance_of(kept: int, of: int) -> Chance:
    """A share and its standard error."""
    share = kept / of
    return Chance(share, math.sqrt(share * (1 - share) / of), of)


def simulate(
    protocol: Protocol, *, seed: int = 1, draws: int = 20_000, learned: Learned | None = None
) -> Draws:
    """Play the visit `draws` times; the same protocol and seed give the same draws on every machine."""
    return together(list(chunks(protocol, seed=seed, draws=draws, learned=learned)))


def chunks(
    protocol: Protocol,
    *,
    seed: int = 1,
    draws: int = 20_000,
    learned: Learned | None = None,
    workers: int = 2,
) -> Iterator[Draws]:
    """The same draws in parts, in order, for whoever needs no more than their sums.

    Each part has a stream of random numbers of its own, so that the number of `workers` (threads:
    NumPy works outside the interpreter's lock) changes nothing.
    """
    player = Player(protocol, learned)
    streams = np.random.SeedSequence(seed).spawn(math.ceil(draws / _CHUNK))
    sizes = [min(_CHUNK, draws - place * _CHUNK) for place in range(len(streams))]
    if workers == 1 or len(streams) == 1:
        yield from map(player.play, streams, sizes)
        return
    with ThreadPoolExecutor(workers) as pool:
        yield from pool.map(player.play, streams, sizes)


class Player:
    """A protocol made ready to be played any number of times."""

    def __init__(self, protocol: Protocol, learned: Learned | None = None) -> None:
        self.protocol = protocol
        self.learned = learned or Learned()
        self.outline = expand(protocol)
        self.routine: Routine = routine(self.outline)
        self.windows = self.outline.windows
        self.spreads = {m.id: self._spreads(m) for m in protocol.manoeuvres.values()}
        self.times = {
            m.id: learned_times(m, protocol.name, self.learned) for m in protocol.manoeuvres.values()
        }
        spots = tuple(reversed(self.outline.spots))
        self.opens = frozenset({spot.occurrence: spot.index for spot in spots}.values())
        timed = {(spot.occurrence, spot.path): spot.index for spot in spots if spot.time_point}
        self.due = frozenset(timed.values())  # of each time point the first spot

    def _spreads(self, manoeuvre: Manoeuvre) -> dict[str, Spread]:
        readings = manoeuvre.readings.values()
        return {r.name: spread_of(manoeuvre, r, self.protocol.name, self.learned) for r in readings}

    def play(self, stream: np.random.SeedSequence, draws: int) -> Draws:
        """Play that many visits with the random numbers of one stream."""
        rng = np.random.Generator(np.random.PCG64(stream))
        spots = self.outline.spots
        ends = [self._ends(spot, rng, draws) for spot in spots]
        whole = [self._whole(spot, end, rng, draws) for spot, end in zip(spots, ends, strict=True)]
        prepare = [self.times[spot.manoeuvre.id][0] if spot.manoeuvre else 0 for spot in spots]
        delay = [self._more(self.learned.delay_s, self.opens, spot, rng, draws) for spot in spots]
        late = [self._more(self.learned.late_s, self.due, spot, rng, draws) for spot in spots]
        lengths = Lengths(prepare, whole, delay, late)
        starts = start_times(self.routine, lengths, written, _ARRAYS)
        reached = [self._reached(window, starts, lengths, draws) for window in self.windows]
        on_time = [_kept(window, starts, lengths, draws) for window in self.windows]
        none = Ends(np.zeros(draws, np.int16), np.zeros(draws, np.bool_))
        filled = [end or none for end in ends]
        return Draws(
            outline=self.outline,
            prepare_s=tuple(prepare),
            starts_s=_rows(starts, draws),
            lengths_s=_rows(whole, draws),
            efforts=np.array([end.efforts for end in filled]),
            agreed=np.array([end.agreed for end in filled]),
            on_time=np.array(on_time, np.bool_).reshape(len(self.windows), draws),
            reached=np.array(reached, np.bool_).reshape(len(self.windows), draws),
            visit_s=_filled(end_of_visit(self.outline, starts, lengths, _ARRAYS), draws),
        )

    def _ends(self, spot: Spot, rng: np.random.Generator, draws: int) -> Ends | None:
        if spot.manoeuvre is None:
            return None
        return draw_ends(spot.manoeuvre, draws, rng, self.spreads[spot.manoeuvre.id])

    def _whole(self, spot: Spot, ends: Ends | None, rng: np.random.Generator, draws: int) -> Floats | float:
        if spot.manoeuvre is not None and ends is not None:
            prepare, effort, rest = self.times[spot.manoeuvre.id]
            lengths = ends.efforts.astype(np.float64) * (effort + rest)
            lengths += prepare - rest
            return lengths
        if spot.step.takes is None:
            return float(spot.step.rest_s or 0)
        return self._bout(spot, spot.step.takes, rng, draws)

    def _bout(self, spot: Spot, takes: Length, rng: np.random.Generator, draws: int) -> Floats | float:
        """From the triangle shortest, about, longest; a learned mean moves its mode."""
        mean = self.learned.bout_s.get((self.protocol.name, spot.step.id))
        if takes.is_known:
            return float(about_s(takes, spot, mean))
        low, high = takes.shortest_s, takes.longest_s
        mode = takes.about_s if mean is None else 3 * mean.learned - low - high
        return rng.triangular(low, min(max(mode, low), high), high, draws)

    def _more(
        self, taught: Taught, firsts: frozenset[int], spot: Spot, rng: np.random.Generator, draws: int
    ) -> Floats | float:
        """How much later such a spot starts, drawn where its spread is learned; 0 for all others."""
        found = taught.get((self.protocol.name, spot.step.id))
        if found is None or spot.index not in firsts:
            return 0.0
        return rng.choice(np.array(found.drawn), draws) if found.drawn else float(round(found.learned))

    def _reached(self, window: Link, starts: Sequence[Floats], lengths: Lengths, draws: int) -> Flags:
        """Where the blocks of a time point with `if_reached` fit into the bout; elsewhere always."""
        own = self.outline.spots_of(window)
        bout = own[0].inside
        if bout is None or not own[0].falls_away:
            return np.ones(draws, np.bool_)
        last = own[-1].index
        ends = starts[last] + lengths.whole[last]
        return np.asarray(ends <= starts[bout] + lengths.whole[bout] + _A_HAIR)


def _kept(window: Link, starts: Sequence[Floats], lengths: Lengths, draws: int) -> Flags:
    gap = moment_of(starts, lengths, *window.later) - moment_of(starts, lengths, *window.earlier)
    return _within(window, _filled(gap, draws))


def _within(link: Link, gap: Floats) -> Flags:
    """Where a distance is kept, both ends of a window included."""
    low = -math.inf if link.low_s is None else link.low_s
    high = math.inf if link.high_s is None else link.high_s
    return np.asarray((gap >= low - _A_HAIR) & (gap <= high + _A_HAIR))


def _filled(values: Floats | float, draws: int) -> Floats:
    return np.array(np.broadcast_to(np.asarray(values, np.float64), (draws,)))


def _rows(values: Sequence[Floats | float], draws: int) -> Floats:
    return np.array([_filled(value, draws) for value in values])


def together(parts: Sequence[Draws]) -> Draws:
    """Several runs of draws as one."""
    return Draws(
        outline=parts[0].outline,
        prepare_s=parts[0].prepare_s,
        starts_s=np.concatenate([part.starts_s for part in parts], axis=1),
        lengths_s=np.concatenate([part.lengths_s for part in parts], axis=1),
        efforts=np.concatenate([part.efforts for part in parts], axis=1),
        agreed=np.concatenate([part.agreed for part in parts], axis=1),
        on_time=np.concatenate([part.on_time for part in parts], axis=1),
        reached=np.concatenate([part.reached for part in parts], axis=1),
        visit_s=np.concatenate([part.visit_s for part in parts]),
    )


def window_paths(outline: Outline) -> dict[KeyPath, int]:
    """The row of each time point's window, by its path."""
    return {window.path: row for row, window in enumerate(outline.windows)}
