"""The cheapest chain of slots, against every chain counted out."""

from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.packing.days.cheapest import Cheapest
from planner.packing.days.market import Cell, Leg, Slots

DAYS, COLUMNS, KINDS = 3, 3, 2
ALL = list(product(range(DAYS), range(COLUMNS)))

grids = st.lists(st.integers(1, 9), min_size=DAYS * COLUMNS, max_size=DAYS * COLUMNS)
spans = st.tuples(st.integers(0, 2), st.one_of(st.none(), st.integers(0, 2)))


def _grid(numbers: list[int]) -> np.ndarray:
    return np.array(numbers, float).reshape(DAYS, COLUMNS)


def _is_chain(cells: tuple[Cell, ...], legs: list[Leg], slots: Slots, day_left: list[int]) -> bool:
    if any(not leg.allowed[cell] for leg, cell in zip(legs, cells, strict=False)):
        return False
    days = [day for day, _ in cells]
    if any(days.count(day) > max(1, day_left[day]) for day in days):
        return False
    for number in range(1, len(cells)):
        here, before, leg = cells[number], cells[number - 1], legs[number]
        apart = here[0] - before[0]
        if apart < leg.at_least or (leg.at_most is not None and apart > leg.at_most):
            return False
        if not apart and slots.ends[legs[number - 1].kind][before] > slots.starts[leg.kind][here]:
            return False
    return True


@settings(max_examples=150)
@given(
    starts=st.lists(grids, min_size=KINDS, max_size=KINDS),
    lengths=st.lists(st.integers(1, 3), min_size=KINDS, max_size=KINDS),
    price=grids,
    allowed=st.lists(st.lists(st.booleans(), min_size=9, max_size=9), min_size=3, max_size=3),
    kinds=st.lists(st.integers(0, KINDS - 1), min_size=3, max_size=3),
    gaps=st.lists(spans, min_size=3, max_size=3),
)
def test_nothing_is_cheaper(starts, lengths, price, allowed, kinds, gaps):
    begin = tuple(_grid(numbers) for numbers in starts)
    end = tuple(its + length for its, length in zip(begin, lengths, strict=True))
    everywhere = (np.ones((DAYS, COLUMNS), bool),) * KINDS
    room = np.ones((DAYS, COLUMNS), np.int64)
    slots = Slots(room, np.full(DAYS, 9), ((everywhere, everywhere),), begin, end)
    legs = [
        Leg(np.array(may).reshape(DAYS, COLUMNS), kind, False, least, most)
        for may, kind, (least, most) in zip(allowed, kinds, gaps, strict=True)
    ]
    prices = _grid(price)
    found = Cheapest(slots).chain(tuple(legs), prices, DAYS - 1, np.full(DAYS, 9), whole=True)
    costs = [
        sum(prices[cell] for cell in cells)
        for cells in product(ALL, repeat=3)
        if _is_chain(cells, legs, slots, [9] * DAYS)
    ]
    if not costs:
        assert found == ()
    else:
        assert _is_chain(found, legs, slots, [9] * DAYS)
        assert sum(prices[cell] for cell in found) == min(costs)


def test_no_more_of_one_participant_than_the_day_has_room_for():
    starts = (np.array([[0.0, 1.0, 2.0], [0.0, 1.0, 2.0]]),)
    everywhere = (np.ones((2, 3), bool),)
    slots = Slots(
        np.ones((2, 3), np.int64), np.full(2, 3), ((everywhere, everywhere),), starts, (starts[0] + 1,)
    )
    legs = tuple(Leg(everywhere[0], 0, False, 0, 0 if n == 1 else None) for n in range(3))
    price = np.array([[1.0, 1.0, 1.0], [5.0, 5.0, 5.0]])

    def days(*left: int) -> list[int]:
        cells = Cheapest(slots).chain(legs, price, 1, np.array(left), whole=True)
        return [day for day, _ in cells]

    assert days(3, 3) == [0, 0, 0]
    assert days(2, 3) in ([0, 0, 1], [1, 1, 1])
    assert days(1, 1) == []
