"""Planned efforts of a block: `enough_efforts(manoeuvre, plan_on, ...) -> int`."""

from __future__ import annotations

import math

import numpy as np

from planner.protocol.model import Manoeuvre
from planner.timing.efforts import Spread, draw_ends, spread_of
from planner.timing.learned import Learned
from planner.timing.single_block import ended_by_rule, has_closed_form

_FIRST_DRAWS, _MOST_DRAWS = 65_536, 1_048_576


def enough_efforts(manoeuvre: Manoeuvre, plan_on: float, protocol: str, learned: Learned | None) -> int:
    """The smallest number of efforts by which the block has ended with probability at least `plan_on`.

    By quadrature where the stop rule allows it; otherwise by draws, which are doubled until no share
    lies within three standard errors of `plan_on`, so that the answer does not hang on the seed. At
    `at_most` every block has ended.
    """
    shares = ended_by(manoeuvre, plan_on, protocol, learned)
    reached = [n for n, share in shares.items() if share >= plan_on]
    return min(reached, default=manoeuvre.at_most)


def ended_by(
    manoeuvre: Manoeuvre, plan_on: float, protocol: str, learned: Learned | None
) -> dict[int, float]:
    """For each number of efforts the probability that the block has ended by then."""
    spreads = {r.name: spread_of(manoeuvre, r, protocol, learned) for r in manoeuvre.readings.values()}
    if has_closed_form(manoeuvre, spreads):
        return ended_by_rule(manoeuvre, spreads) | {manoeuvre.at_most: 1.0}
    return _ended_in_draws(manoeuvre, plan_on, spreads)


def _ended_in_draws(manoeuvre: Manoeuvre, plan_on: float, spreads: dict[str, Spread]) -> dict[int, float]:
    draws = _FIRST_DRAWS
    rng = np.random.Generator(np.random.PCG64(1))
    counts = np.zeros(manoeuvre.at_most + 1)
    total = 0
    while True:
        ends = draw_ends(manoeuvre, draws, rng, spreads)
        counts += np.bincount(ends.efforts, minlength=manoeuvre.at_most + 1)
        total += draws
        shares = np.cumsum(counts) / total
        if total >= _MOST_DRAWS or not any(_is_near(float(share), plan_on, total) for share in shares):
            break
        draws = total
    return {n: float(shares[n]) for n in range(manoeuvre.at_least, manoeuvre.at_most + 1)}


def _is_near(share: float, wanted: float, draws: int) -> bool:
    error = math.sqrt(max(share * (1 - share), 0.0) / draws)
    return 0 < share < 1 and abs(share - wanted) < 3 * error
