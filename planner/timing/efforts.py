"""How many efforts a block takes: the stop rule on columns of draws.

The rule itself lives in `protocol.agreement`; here it is written once more for many blocks at a
time, and the tests hold the two together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.protocol.model import EnoughLine, Manoeuvre, Reading
from planner.quantity import Quantity
from planner.timing.learned import Learned

Floats = NDArray[np.float64]
Counts = NDArray[np.int16]
Flags = NDArray[np.bool_]
NOTHING = -np.inf  # stands for an effort that is not acceptable: never among the largest


@dataclass(frozen=True)
class Ends:
    """How each drawn block ended: its number of efforts, and whether by agreement."""

    efforts: Counts
    agreed: Flags


@dataclass(frozen=True, slots=True)
class Spread:
    """A reading as drawn: a normal distribution around `level` with SD `sd`, in the reading's unit."""

    level: float
    sd: float


def spread_of(manoeuvre: Manoeuvre, reading: Reading, protocol: str, learned: Learned | None) -> Spread:
    """What is assumed of a reading, or what the record has taught of its spread."""
    level = float(reading.typical.value) if reading.typical else 0.0
    sd = _assumed_sd(level, reading.spread)
    if learned is not None:
        estimate = learned.spread.get((protocol, manoeuvre.id, reading.name))
        sd = estimate.learned if estimate else sd
    return Spread(level, sd)


def _assumed_sd(level: float, spread: Quantity | None) -> float:
    if spread is None:
        return 0.0
    return abs(level) * float(spread.value) / 100 if spread.is_percent else float(spread.value)


def draw_ends(
    manoeuvre: Manoeuvre,
    draws: int,
    rng: np.random.Generator,
    spreads: dict[str, Spread],
) -> Ends:
    """Play `draws` blocks of the manoeuvre; those that have ended draw no further efforts."""
    if not manoeuvre.enough:
        efforts = np.full(draws, manoeuvre.at_least, np.int16)
        return Ends(efforts, np.zeros(draws, np.bool_))
    efforts = np.full(draws, manoeuvre.at_most, np.int16)
    agreed = np.zeros(draws, np.bool_)
    play = _Play(manoeuvre, draws, spreads)
    for effort in range(1, manoeuvre.at_most + 1):
        play.add_effort(rng, effort)
        if effort < manoeuvre.at_least:
            continue
        done = play.holds()
        ended = play.who[done]
        efforts[ended] = effort
        agreed[ended] = True
        play.keep(~done)
        if not play.who.size:
            break
    return Ends(efforts, agreed)


class _Play:
    """Blocks that have not ended yet: for each reading the values that its lines may need, largest first."""

    def __init__(self, manoeuvre: Manoeuvre, draws: int, spreads: dict[str, Spread]) -> None:
        self.manoeuvre = manoeuvre
        self.who = np.arange(draws)
        self.spreads = spreads
        self.values: dict[str, list[Floats]] = {line.reading: [] for line in manoeuvre.enough}
        self.depth = {name: _depth(manoeuvre, name) for name in self.values}
        self.acceptable = np.zeros(draws, np.int16) if manoeuvre.acceptable < 1 else None

    def add_effort(self, rng: np.random.Generator, effort: int) -> None:
        """Draw one more effort of every block still going on and sort its readings in."""
        size = self.who.size
        taken = None
        if self.acceptable is not None:
            taken = rng.random(size) < self.manoeuvre.acceptable
            self.acceptable += taken
        for name, values in self.values.items():
            spread = self.spreads[name]
            drawn = rng.standard_normal(size)
            drawn *= spread.sd
            drawn += spread.level * _share_reached(self.manoeuvre, effort)
            np.abs(drawn, out=drawn)
            if taken is not None:
                drawn[~taken] = NOTHING
            _sort_in(values, drawn, self.depth[name])

    def holds(self) -> Flags:
        """Which blocks have `at_least` acceptable efforts and every line holding."""
        found: Flags = np.ones(self.who.size, np.bool_)
        if self.acceptable is not None:
            found &= self.acceptable >= self.manoeuvre.at_least
        for line in self.manoeuvre.enough:
            found &= _line_holds(line, self.values[line.reading], self.who.size)
        return found

    def keep(self, still: Flags) -> None:
        """Go on with these blocks only."""
        self.who = self.who[still]
        for values in self.values.values():
            values[:] = [value[still] for value in values]
        if self.acceptable is not None:
            self.acceptable = self.acceptable[still]


def _depth(manoeuvre: Manoeuvre, reading: str) -> int:
    """How many of the largest values the lines on a reading can look at."""
    lines = [line for line in manoeuvre.enough if line.reading == reading]
    return max(line.count if line.kind == "largest" else manoeuvre.at_most for line in lines)


def _share_reached(manoeuvre: Manoeuvre, effort: int) -> float:
    learning = manoeuvre.learning
    if learning is None:
        return 1.0
    return 1.0 - learning.gain * max(0.0, 1.0 - (effort - 1) / learning.over)


def _sort_in(values: list[Floats], drawn: Floats, depth: int) -> None:
    """Insert a value into each column, which stays sorted with its largest first."""
    for place, value in enumerate(values):
        values[place] = np.maximum(value, drawn)
        drawn = np.minimum(value, drawn)
    if len(values) < depth:
        values.append(drawn)


def _line_holds(line: EnoughLine, values: list[Floats], size: int) -> Flags:
    """Whether the line holds in each column, given its sorted values so far."""
    found: Flags = np.zeros(size, np.bool_)
    if len(values) < line.count:
        return found
    last = 1 if line.kind == "largest" else len(values) - line.count + 1
    with np.errstate(invalid="ignore"):  # not acceptable less not acceptable is no difference
        for top in range(last):
            largest, smallest = values[top], values[top + line.count - 1]
            found |= largest - smallest <= _allowed(line, largest)
    return found


def _allowed(line: EnoughLine, largest: Floats) -> Floats | float:
    """The widest of `within`; a percentage is of the largest of the values compared."""
    fixed = [float(width.value) for width in line.within if not width.is_percent]
    shares = [float(width.value) / 100 for width in line.within if width.is_percent]
    if not shares:
        return max(fixed)
    share: Floats = largest * max(shares)
    return np.maximum(share, max(fixed)) if fixed else share
