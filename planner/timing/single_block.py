"""The number of efforts of one block without random numbers: `ended_by_rule(manoeuvre, spreads)`.

For stop rules of one line whose readings are normal and independent. Both kinds are integrals over
the sorted values, worked out on a grid of 0.04 SD:

- "any k": a block has not ended by effort n when no k neighbours in the sorted order lie within the
  allowed width. Going up the sorted values, only the last k - 1 matter (k = 2, 3).
- "largest 2": a block goes on while the largest two lie too far apart. Each further effort becomes
  the largest, the second, or neither, so the density of the largest two is carried from effort to effort.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from planner.protocol.model import EnoughLine, Manoeuvre
from planner.timing.efforts import Spread

Floats = NDArray[np.float64]
_STEP, _REACH = 0.04, 6.5  # of the grid, in SDs


def has_closed_form(manoeuvre: Manoeuvre, spreads: dict[str, Spread]) -> bool:
    """Whether `ended_by_rule` can answer: one line, no learning, every effort acceptable, no sign change."""
    if len(manoeuvre.enough) != 1 or manoeuvre.learning is not None or manoeuvre.acceptable < 1:
        return False
    line = manoeuvre.enough[0]
    spread = spreads[line.reading]
    if spread.sd <= 0 or abs(spread.level) < _REACH * spread.sd:
        return False
    return line.count == 2 or (line.kind == "any" and line.count == 3)


def ended_by_rule(manoeuvre: Manoeuvre, spreads: dict[str, Spread]) -> dict[int, float]:
    """For each number of efforts the probability that the block has ended by agreement by then.

    ValueError where `has_closed_form` is False.
    """
    if not has_closed_form(manoeuvre, spreads):
        raise ValueError(f"no closed form for the stop rule of {manoeuvre.id}")
    line = manoeuvre.enough[0]
    grid = _Grid(line, spreads[line.reading])
    most = manoeuvre.at_most
    if line.kind == "largest":
        going_on = _going_on_largest(grid, max(manoeuvre.at_least, 2), most)
    else:
        going_on = _going_on_any(grid, most)
    numbers = range(manoeuvre.at_least, most + 1)
    return {n: min(1.0, max(0.0, 1.0 - going_on.get(n, 1.0))) for n in numbers}


class _Grid:
    """Values of one effort, their weights, and below which value another is too far from them."""

    def __init__(self, line: EnoughLine, spread: Spread) -> None:
        self.line = line
        cells = round(2 * _REACH / _STEP)
        z = (np.arange(cells) + 0.5) * _STEP - _REACH
        self.weight: Floats = np.exp(-z * z / 2) * (_STEP / math.sqrt(2 * math.pi))
        self.weight /= self.weight.sum()
        values: Floats = np.asarray(abs(spread.level) + spread.sd * z, np.float64)
        limit = values - self._allowed(values)
        # where the limit lies, in cells from the lower edge of the grid
        self.place = (limit - values[0]) / (spread.sd * _STEP) + 0.5
        self.cells = cells

    def _allowed(self, largest: Floats) -> Floats:
        widths = [
            largest * float(width.value) / 100
            if width.is_percent
            else np.full_like(largest, float(width.value))
            for width in self.line.within
        ]
        widest: Floats = np.maximum.reduce(widths)
        return widest

    def share_below(self) -> Floats:
        """Row: a larger value; column: which share of a cell of smaller ones is too far from it."""
        cells = np.arange(self.cells)
        share: Floats = np.clip(self.place[:, None] - cells[None, :], 0.0, 1.0)
        return share


def _going_on_largest(grid: _Grid, least: int, most: int) -> dict[int, float]:
    """P(not ended by n), first looked at after `least` efforts: the density over (largest, second), cut."""
    apart = grid.share_below()
    apart = np.where(np.arange(grid.cells)[None, :] < np.arange(grid.cells)[:, None], apart, 0.0)
    weight = grid.weight
    below = np.cumsum(weight) - weight / 2
    density = weight[:, None] * weight[None, :] * least * (least - 1) * below[None, :] ** (least - 2) * apart
    found = {least: float(density.sum())}
    for effort in range(least + 1, most + 1):
        under = np.cumsum(density, axis=1) - density / 2
        as_second = weight[None, :] * under
        as_largest = weight[:, None] * density.sum(axis=1)[None, :]
        density = density * below[None, :] + (as_second + as_largest) * apart
        found[effort] = float(density.sum())
    return found


def _going_on_any(grid: _Grid, most: int) -> dict[int, float]:
    """P(not ended by n): n! times the integral over sorted values of which no k neighbours agree."""
    count = grid.line.count
    step = _next_of_two if count == 2 else _next_of_three
    volume = grid.weight.copy() if count == 2 else _pairs(grid)
    found = {}
    for number in range(count, most + 1):
        volume = step(grid, volume)
        found[number] = math.factorial(number) * float(volume.sum())
    return found


def _pairs(grid: _Grid) -> Floats:
    """Row: the larger, column: the smaller of two sorted values."""
    lower = np.tri(grid.cells, k=-1) + np.eye(grid.cells) / 2
    pairs: Floats = grid.weight[:, None] * grid.weight[None, :] * lower
    return pairs


def _next_of_two(grid: _Grid, volume: Floats) -> Floats:
    """One more value above all others, too far from the one below it."""
    return grid.weight * _cumulated_at(volume, grid.place)


def _next_of_three(grid: _Grid, volume: Floats) -> Floats:
    """One more value above all others, too far from the last but one; row: last, column: the one before."""
    cells = np.arange(grid.cells)
    cumulated = np.concatenate([np.zeros((grid.cells, 1)), np.cumsum(volume, axis=1)], axis=1)
    place = np.clip(grid.place, 0.0, grid.cells)
    whole = np.minimum(place.astype(np.int64), grid.cells - 1)
    part = place - whole
    # rows of `reached`: the new value; columns: the value below it, summed over the one below that
    reached = cumulated[:, whole] * (1 - part) + cumulated[:, whole + 1] * part
    above = (cells[:, None] > cells[None, :]) + np.eye(grid.cells) / 2
    following: Floats = grid.weight[:, None] * reached.T * above
    return following


def _cumulated_at(volume: Floats, place: Floats) -> Floats:
    cumulated = np.concatenate([[0.0], np.cumsum(volume)])
    found: Floats = np.interp(np.clip(place, 0.0, volume.size), np.arange(volume.size + 1), cumulated)
    return found
