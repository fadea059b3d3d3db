"""Balanced orders: Williams designs by their property, and dealt out evenly.

Sources: Williams 1949, Aust J Sci Res A 2:149-168; the design for three conditions as the manual of
the R package crossdes prints it (read), those for four, five and six computed from the same rule.
"""

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.study.orders import orders, williams

LETTERS = "ABCDEFGHIJKL"


def words(n):
    return ["".join(row) for row in williams(LETTERS[:n])]


def test_three_conditions_as_printed():
    assert " ".join(words(3)).translate(str.maketrans("ABC", "123")) == "123 231 312 321 132 213"


def test_ten_conditions_begin_as_printed():
    assert williams(range(1, 11))[0] == (1, 2, 10, 3, 9, 4, 8, 5, 7, 6)


def test_four_conditions():
    assert words(4) == ["ABDC", "BCAD", "CDBA", "DACB"]


@pytest.mark.parametrize(
    ("n", "sequences", "neighbours"),
    [(2, 2, 1), (3, 6, 2), (4, 4, 1), (5, 10, 2), (6, 6, 1), (9, 18, 2), (12, 12, 1)],
)
def test_every_condition_follows_every_other_equally_often(n, sequences, neighbours):
    design = williams(LETTERS[:n])
    assert len(design) == len(set(design)) == sequences
    pairs = Counter(pair for row in design for pair in pairwise(row))
    assert len(pairs) == n * (n - 1)
    assert set(pairs.values()) == {neighbours}
    for place in range(n):
        assert set(Counter(row[place] for row in design).values()) == {sequences // n}


def test_one_condition_and_none():
    assert williams(["A"]) == (("A",),)
    assert williams([]) == ()


def test_an_even_design_holds_each_rows_reverse():
    assert {row[::-1] for row in williams("ABCDEF")} == set(williams("ABCDEF"))


people = st.integers(0, 40).map(lambda n: [f"P{i}" for i in range(n)])


@given(people, st.integers(1, 5), st.integers(0, 99))
def test_all_sequences_are_used_as_equally_as_the_numbers_allow(participants, n, seed):
    found = orders(participants, LETTERS[:n], seed)
    uses = Counter(dict.fromkeys(williams(LETTERS[:n]), 0))
    uses.update(found.values())
    assert list(found) == participants
    assert max(uses.values()) - min(uses.values()) <= 1


@given(people, st.integers(2, 4), st.integers(0, 9), st.randoms())
def test_and_so_within_each_group(participants, n, seed, random):
    groups = {one: random.choice(["training", "control"]) for one in participants}
    found = orders(participants, LETTERS[:n], seed, groups)
    for group in set(groups.values()):
        uses = Counter(dict.fromkeys(williams(LETTERS[:n]), 0))
        uses.update(row for one, row in found.items() if groups[one] == group)
        assert max(uses.values()) - min(uses.values()) <= 1


@given(people, st.integers(1, 5), st.integers(0, 9), st.integers(1, 9))
def test_who_is_added_at_the_end_changes_nobody_elses_order(participants, n, seed, more):
    longer = [*participants, *(f"N{i}" for i in range(more))]
    before, after = (orders(listed, LETTERS[:n], seed) for listed in (participants, longer))
    assert {one: after[one] for one in participants} == before


def test_the_seed_decides_and_nothing_else():
    listed = [f"P{i}" for i in range(12)]
    assert orders(listed, "ABC", 1) == orders(listed, "ABC", 1)
    assert len({tuple(orders(listed, "ABC", seed).values()) for seed in range(20)}) > 15


def test_the_same_orders_on_every_machine():
    """Written down once: a study's orders must never change with a version of Python or of this tool."""
    found = orders(["a", "b", "c", "d"], ["x", "y"], 3)
    assert ["".join(row) for row in found.values()] == ["yx", "xy", "yx", "xy"]
