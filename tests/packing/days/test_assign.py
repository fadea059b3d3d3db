"""Visits to slots: where everybody fits by the earliest thinkable day, that day is found."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from planner.packing.budget import Budget
from planner.packing.days.assign import assign
from planner.packing.days.market import Leg, Slots

DAYS, COLUMNS, WEEK = 28, 3, 7


def _tight(seed: int, spare: int) -> tuple[Slots, list[tuple[Leg, ...]]]:
    """Slots and chains made from a choice that ends on the last day but `spare`, every slot taken."""
    draw = np.random.default_rng(seed)
    room = np.ones((DAYS, COLUMNS), np.int64)
    anywhere = (np.ones((DAYS, COLUMNS), bool),)
    slots = Slots(room, np.full(DAYS, COLUMNS), ((anywhere, anywhere),))
    last = DAYS - spare
    chains = []
    for first in range(WEEK):
        for column in range(COLUMNS):
            visits = len(range(first, last, WEEK))
            allowed = draw.random((DAYS, COLUMNS)) < 0.3
            allowed[first:last:WEEK, column] = True
            chains.append(
                tuple(Leg(allowed, 0, False, 5 if n else 0, 9 if n else None) for n in range(visits))
            )
    return slots, chains


@pytest.mark.parametrize("seed", range(6))
def test_a_choice_that_leaves_no_slot_free_is_found(seed: int):
    slots, chains = _tight(seed, WEEK)
    found = assign(slots, chains, least_last_day=0, budget=Budget.of(20, 1, None, None), seed=seed)
    assert found.missing == 0
    assert found.last_day == DAYS - WEEK - 1
    cells = [cell for its in found.taken for cell in its]
    assert len(set(cells)) == len(cells)
    for chain, its in zip(chains, found.taken, strict=True):
        assert all(leg.allowed[cell] for leg, cell in zip(chain, its, strict=True))
        assert all(5 <= b - a <= 9 for (a, _), (b, _) in pairwise(its))


def test_no_day_before_the_earliest_thinkable_is_tried():
    slots, chains = _tight(1, WEEK)
    found = assign(slots, chains, least_last_day=DAYS - 1, budget=Budget.of(5, 1, None, None))
    assert found.missing == 0
