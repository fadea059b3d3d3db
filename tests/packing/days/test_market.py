"""Prices of slots, and how far back the visit before may lie, against every day looked at."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from planner.packing.days.market import Leg, Market, Slots, reach

DAYS = 12


@given(
    costs=st.lists(st.integers(0, 9), min_size=DAYS, max_size=DAYS),
    least=st.integers(1, DAYS + 1),
    more=st.one_of(st.none(), st.integers(-1, DAYS + 1)),
)
def test_the_least_over_the_days_that_are_far_enough_and_not_too_far(costs, least, more):
    most = None if more is None else least + more
    leg = Leg(np.ones((DAYS, 1), bool), 0, False, least, most)
    found = reach(np.array([costs, costs[::-1]], float), leg)
    for row, its in zip(found.tolist(), (costs, costs[::-1]), strict=True):
        for day in range(DAYS):
            before = [its[d] for d in range(day) if day - d >= least and (most is None or day - d <= most)]
            assert row[day] == min(before, default=np.inf)


def test_a_slot_that_too_many_want_grows_dearer_until_another_is_cheaper():
    room = np.ones((1, 2), np.int64)
    market = Market.opened(Slots(room, np.array([2]), ()))
    market.take([(0, 0), (0, 0)], 1)
    assert market.crowding == 1
    assert market.is_crowded([(0, 0)])
    assert not market.is_crowded([(0, 1)])
    first = market.prices(hard=False)[0]
    assert first[0] > first[1]
    market.take([(0, 0)], -1)
    market.grow_dearer()
    assert market.prices(hard=True)[0, 0] == np.inf
    assert np.isfinite(market.prices(hard=False)[0, 0])
