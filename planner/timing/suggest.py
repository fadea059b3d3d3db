"""What would mend a time point that is too often missed: `suggest(protocol) -> tuple[Suggestion, ...]`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from planner.protocol.model import KeyPath, Manoeuvre, Protocol
from planner.timing.changes import (
    Change,
    Value,
    counts_back,
    fewer_efforts,
    later,
    other_orders,
    second_person,
    wider,
    without_one,
)
from planner.timing.expand import Outline, Spot
from planner.timing.network import contradictions
from planner.timing.simulate import Chance, Draws, chance_of, simulate, window_paths

_STEP_S = 10  # windows and times are moved by whole tens of seconds, as they are written
_TENS = 6  # so many widths and times are tried, should the first push another time point out
_DRAWS = 20_000


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One single change that brings a time point to the chance asked for.

    `before` and `after` are its simulated chances; `all_before`, `all_after` those of keeping every
    time point of the visit; `longer_s` by how much the visit's 80 % quantile grows (negative:
    shrinks). `path` and `value` say what to write where.
    """

    step: str
    at_s: int
    kind: str
    path: KeyPath
    value: Value
    words: str
    cost: str
    before: Chance
    after: Chance
    all_before: Chance
    all_after: Chance
    longer_s: int

    def as_json(self) -> dict[str, object]:
        """The suggestion as plain values."""
        return {
            "step": self.step,
            "at_s": self.at_s,
            "kind": self.kind,
            "path": list(self.path),
            "value": list(self.value) if isinstance(self.value, tuple) else self.value,
            "words": self.words,
            "cost": self.cost,
            "chance_before": round(self.before.share, 4),
            "chance_after": round(self.after.share, 4),
            "standard_error": round(self.after.error, 4),
            "chance_of_all_before": round(self.all_before.share, 4),
            "chance_of_all_after": round(self.all_after.share, 4),
            "longer_s": self.longer_s,
        }


def suggest(protocol: Protocol, *, chance: float = 0.95, seed: int = 1) -> tuple[Suggestion, ...]:
    """For every time point below `chance`, the smallest single changes that reach it, the least first.

    Each change was simulated. One that brings another time point below `chance` (and lower than it
    was) is left out. The order goes by how much of the protocol changes: a common-sense ranking
    without a source.
    """
    draws = simulate(protocol, seed=seed, draws=_DRAWS)
    found: list[Suggestion] = []
    for row, window in enumerate(draws.outline.windows):
        now = draws.chance(row)
        if now is None or now.share >= chance:
            continue
        spot = draws.outline.spots[draws.outline.owner(window)]
        trial = _Trial(protocol, draws, row, spot, chance, seed)
        found += trial.suggestions()
    return tuple(found)


@dataclass(frozen=True)
class _Trial:
    """One time point to be mended."""

    protocol: Protocol
    draws: Draws
    row: int
    spot: Spot
    chance: float
    seed: int

    def suggestions(self) -> list[Suggestion]:
        """The changes that work, the least first."""
        kept: list[tuple[Change, Draws]] = []
        for attempts in self._attempts():
            kept += self._first_that_works(attempts)
        kept.sort(key=lambda pair: pair[0].size)
        return [self._suggestion(change, after) for change, after in kept]

    def _attempts(self) -> Iterator[Iterable[Change]]:
        """Changes by kind, the smallest first: of each group the first that works is taken."""
        outline = self.draws.outline
        lacking = self._lacking_s()
        ready = second_person(self.protocol, outline, self.spot)
        yield [ready] if ready else []
        tens = range(lacking, lacking + _TENS * _STEP_S, _STEP_S)
        yield (wider(self.protocol, self.spot, seconds) for seconds in tens)
        yield (change for seconds in tens if (change := later(self.protocol, self.spot, seconds)))
        crowd = self._crowd(outline)
        for manoeuvre in _manoeuvres(crowd):
            yield fewer_efforts(manoeuvre)
        measures = {(spot.number, *spot.path[2:4]): spot for spot in (self.spot, *crowd)}
        for spot in measures.values():
            yield sorted(other_orders(spot.step, spot.path), key=lambda change: change.size)
            for change in without_one(spot.step, spot.path):
                yield [change]

    def _lacking_s(self) -> int:
        """By how many seconds the window would have to be wider, in whole tens."""
        window = self.draws.outline.windows[self.row]
        gaps = self.draws.gap_s(window)[self.draws.reached[self.row]]
        wanted = float(np.quantile(gaps, self.chance, method="inverted_cdf"))
        lack = wanted - (window.high_s or 0)
        return max(_STEP_S, math.ceil(lack / _STEP_S - 1e-9) * _STEP_S)

    def _crowd(self, outline: Outline) -> list[Spot]:
        """The blocks that stand before it and after what it counts from (with `before`: after it)."""
        window = outline.windows[self.row]
        first, last = sorted((window.earlier.activity, window.later.activity))
        inside = self.spot.inside
        stretch = outline.spots[first + 1 : last] if counts_back(self.spot) else outline.spots[first:last]
        return [spot for spot in stretch if spot.manoeuvre and spot.inside == inside]

    def _first_that_works(self, attempts: Iterable[Change]) -> list[tuple[Change, Draws]]:
        is_valid = not contradictions(self.protocol)
        for change in attempts:
            changed = change.apply(self.protocol)
            if is_valid and contradictions(changed):
                continue
            after = simulate(changed, seed=self.seed, draws=_DRAWS)
            if self._works(after):
                return [(change, after)]
        return []

    def _works(self, after: Draws) -> bool:
        """Whether the time point reaches the chance and no other falls below it because of the change."""
        rows = window_paths(after.outline)
        for row, window in enumerate(self.draws.outline.windows):
            was, now = self.draws.chance(row), after.chance(rows[window.path])
            if was is None or now is None:
                continue
            if row == self.row and now.share < self.chance:
                return False
            if now.share < self.chance and now.share < was.share - 3 * max(was.error, now.error):
                return False
        return True

    def _suggestion(self, change: Change, after: Draws) -> Suggestion:
        rows = window_paths(after.outline)
        none = chance_of(0, 1)
        return Suggestion(
            step=self.spot.step.id,
            at_s=self.spot.at_s or 0,
            kind=change.kind,
            path=change.path,
            value=change.value,
            words=change.words,
            cost=change.cost,
            before=self.draws.chance(self.row) or none,
            after=after.chance(rows[self.spot.path]) or none,
            all_before=self.draws.chance_of_all(),
            all_after=after.chance_of_all(),
            longer_s=after.quantile_s(0.8) - self.draws.quantile_s(0.8),
        )


def _manoeuvres(spots: Iterable[Spot]) -> Iterable[Manoeuvre]:
    return {spot.manoeuvre.id: spot.manoeuvre for spot in spots if spot.manoeuvre}.values()


def words_for(suggestion: Suggestion) -> str:
    """One line: the time point, the change, its chances, its cost."""
    before, after = suggestion.before.share, suggestion.after.share
    return (
        f"{suggestion.words}: on time in {after * 100:.0f} of 100 simulated visits instead of "
        f"{before * 100:.0f}; {suggestion.cost}"
    )
