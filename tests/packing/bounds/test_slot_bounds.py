"""The earliest last day that slots allow, against every choice counted out by hand."""

from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.packing.bounds.slot_bounds import least_day_of_slots
from planner.packing.budget import Budget
from planner.packing.days.assign import assign
from planner.packing.days.market import Leg, Slots

DAYS = 6


def _slots(room: list[int]) -> Slots:
    everywhere = np.ones((DAYS, 1), bool)
    return Slots(np.array([[n] for n in room]), np.full(DAYS, 9), (((everywhere,), (everywhere,)),))


def _chains(allowed: list[list[bool]], gap: int) -> list[tuple[Leg, ...]]:
    legs = [np.array([[day] for day in days]) for days in allowed]
    return [(Leg(days, 0, False, 0), Leg(days, 0, False, gap)) for days in legs]


def _least_by_trying_all(room: list[int], allowed: list[list[bool]], gap: int) -> int | None:
    pairs = [
        [(a, b) for a in range(DAYS) for b in range(a + gap, DAYS) if days[a] and days[b]] for days in allowed
    ]
    ends = [
        max(b for _, b in choice)
        for choice in product(*pairs)
        if all(sum(day in pair for pair in choice) <= room[day] for day in range(DAYS))
    ]
    return min(ends, default=None)


def test_days_without_room_push_the_end_back():
    chains = _chains([[True] * DAYS] * 2, 2)
    assert least_day_of_slots(_slots([2, 0, 2, 1, 1, 1]), chains, 0) == 2
    assert least_day_of_slots(_slots([2, 0, 1, 0, 1, 1]), chains, 0) == 4


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, 2), min_size=DAYS, max_size=DAYS),
    st.lists(st.lists(st.booleans(), min_size=DAYS, max_size=DAYS), min_size=1, max_size=3),
    st.integers(1, 3),
)
def test_no_choice_ends_before_the_bound_and_the_assignment_never_claims_it(room, allowed, gap):
    found = _least_by_trying_all(room, allowed, gap)
    bound = least_day_of_slots(_slots(room), _chains(allowed, gap), 0)
    if found is not None:
        assert bound <= found
        made = assign(_slots(room), _chains(allowed, gap), least_last_day=0, budget=Budget(float("-inf")))
        assert made.missing or made.last_day >= found
