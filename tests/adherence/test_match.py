"""Monotone alignment against all alignments, a shortest path, and a library's sequence alignment."""

from functools import cache

import networkx as nx
from hypothesis import given
from hypothesis import strategies as st
from rapidfuzz.distance import Indel

from planner.adherence.match import align, find

LETTERS = st.lists(st.sampled_from("ABCD"), max_size=6)
WEIGHTS = st.lists(st.integers(1, 5), min_size=6, max_size=6)


def brute_force(planned, recorded, ours, theirs):
    """The least cost over all alignments, by trying every one."""

    @cache
    def best(i, j):
        if i == len(planned) or j == len(recorded):
            return sum(ours[i : len(planned)]) + sum(theirs[j : len(recorded)])
        choices = [best(i + 1, j) + ours[i], best(i, j + 1) + theirs[j]]
        if planned[i] == recorded[j]:
            choices.append(best(i + 1, j + 1))
        return min(choices)

    return best(0, 0)


def every_alignment(planned, recorded):
    """All sets of rising pairs of equal items, listed one by one."""

    def walk(i, j):
        yield ()
        for a in range(i, len(planned)):
            for b in range(j, len(recorded)):
                if planned[a] == recorded[b]:
                    for rest in walk(a + 1, b + 1):
                        yield ((a, b), *rest)

    return list(walk(0, 0))


def cost_of(pairs, ours, theirs, planned, recorded):
    left = {i for i, _ in pairs}, {j for _, j in pairs}
    return sum(ours[i] for i in range(len(planned)) if i not in left[0]) + sum(
        theirs[j] for j in range(len(recorded)) if j not in left[1]
    )


@given(LETTERS, LETTERS, WEIGHTS, WEIGHTS)
def test_no_alignment_costs_less(planned, recorded, ours, theirs):
    found = align(planned, recorded, ours, theirs)
    assert found.cost == brute_force(tuple(planned), tuple(recorded), ours, theirs)
    assert found.cost == cost_of(found.pairs, ours, theirs, planned, recorded)


@given(st.lists(st.sampled_from("AB"), max_size=4), st.lists(st.sampled_from("AB"), max_size=4))
def test_pairs_are_one_of_all_alignments_and_the_cheapest(planned, recorded):
    everything = every_alignment(planned, recorded)
    found = align(planned, recorded)
    assert found.pairs in everything
    ones = [1] * 4
    assert found.cost == min(cost_of(pairs, ones, ones, planned, recorded) for pairs in everything)


@given(LETTERS, LETTERS)
def test_the_cost_is_a_library_s_distance_of_insertions_and_deletions(planned, recorded):
    """rapidfuzz's Indel distance: sequence alignment without substitution."""
    assert align(planned, recorded).cost == Indel.distance(planned, recorded)


@given(LETTERS, LETTERS, WEIGHTS, WEIGHTS)
def test_the_cost_is_the_shortest_path_of_a_library(planned, recorded, ours, theirs):
    """networkx, Dijkstra on the grid of prefixes."""
    grid = nx.DiGraph()
    grid.add_node((0, 0))
    for i in range(len(planned) + 1):
        for j in range(len(recorded) + 1):
            if i < len(planned):
                grid.add_edge((i, j), (i + 1, j), weight=ours[i])
            if j < len(recorded):
                grid.add_edge((i, j), (i, j + 1), weight=theirs[j])
            if i < len(planned) and j < len(recorded) and planned[i] == recorded[j]:
                grid.add_edge((i, j), (i + 1, j + 1), weight=0)
    shortest = nx.shortest_path_length(grid, (0, 0), (len(planned), len(recorded)), weight="weight")
    assert align(planned, recorded, ours, theirs).cost == shortest


@given(st.lists(st.sampled_from("ABCDE"), unique=True, max_size=5), LETTERS)
def test_everything_is_accounted_for_once(planned, recorded):
    found = find(planned, recorded)
    places = [p.recorded for p in (*found.matched, *found.swapped)] + [*found.repeated, *found.extra]
    assert sorted(places) == list(range(len(recorded)))
    ours = [p.planned for p in (*found.matched, *found.swapped)] + list(found.missing)
    assert sorted(ours) == list(range(len(planned)))
    assert all(planned[p.planned] == recorded[p.recorded] for p in (*found.matched, *found.swapped))
    assert all(recorded[place] in planned for place in found.repeated)
    assert all(recorded[place] not in planned for place in found.extra)
    assert all(planned[place] not in recorded for place in found.missing)


def test_swapped_repeated_extra_and_missing_by_hand():
    found = find("ABCD", "BAACX")
    assert [tuple(p) for p in found.matched] in ([(1, 0), (2, 3)], [(0, 1), (2, 3)])
    assert len(found.swapped) == 1
    assert len(found.repeated) == 1
    assert found.extra == (4,)
    assert found.missing == (3,)


def test_the_heavier_block_stays_in_its_place():
    """Eight efforts of B before two of A: A is the one that was moved."""
    found = find("AB", "BA", [1, 1], [8, 2])
    assert [tuple(p) for p in found.matched] == [(1, 0)]
    assert [tuple(p) for p in found.swapped] == [(0, 1)]
