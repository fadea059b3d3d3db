"""Differences that cannot all hold, against published networks and other ways to find them."""

import random
from itertools import pairwise

import networkx as nx
import pytest

from planner.timing.distances import Contingent, Edge, collision

MINUTE = 60


def _between(early, late, low, high):
    """low <= time(late) - time(early) <= high, in minutes."""
    edges = []
    if high is not None:
        edges.append(Edge(early, late, high * MINUTE, of=f"{early}-{late} at most"))
    if low is not None:
        edges.append(Edge(late, early, -low * MINUTE, of=f"{early}-{late} at least"))
    return edges


def _john_and_fred(john, fred):
    """Dechter, Meiri, Pearl, Artif Intell 1991;49:61-95, example 1.1 (from memory): 0 is 7:00, 1 John leaves,
    2 he arrives, 3 Fred leaves, 4 he arrives."""
    return [
        *_between(0, 1, 10, 20),
        *_between(1, 2, *john),
        *_between(3, 2, 10, 20),
        *_between(3, 4, *fred),
        *_between(0, 4, 60, 70),
    ]


CAR, BUS, CARPOOL = (30, 40), (60, None), (40, 50)


@pytest.mark.parametrize(
    ("john", "fred", "possible"),
    [(CAR, CARPOOL, True), (BUS, CARPOOL, False), (BUS, (20, 30), True), (CAR, (20, 30), True)],
)
def test_john_and_fred(john, fred, possible):
    assert (collision([list(range(5))], [], _john_and_fred(john, fred), 5) == ()) is possible


def test_bus_and_carpool_lack_twenty_minutes_and_name_five_statements():
    """Leaves >= 10, bus >= 60, arrives <= 20 after Fred left, carpool >= 40, Fred arrives <= 70."""
    demands = collision([list(range(5))], [], _john_and_fred(BUS, CARPOOL), 5)
    assert sum(edge.seconds for edge in demands) == -20 * MINUTE
    assert {edge.of for edge in demands} == {
        "0-1 at least", "1-2 at least", "3-2 at most", "3-4 at least", "0-4 at most",
    }  # fmt: skip


def test_john_and_fred_have_the_published_ranges():
    """The minimal network of car and carpool: each end of a range can be had, one second beyond cannot."""
    ranges = {1: (10, 20), 2: (40, 50), 3: (20, 30), 4: (60, 70)}
    for node, (low, high) in ranges.items():
        for at, possible in [(low, True), (high, True), (low - 1, False), (high + 1, False)]:
            edges = [*_john_and_fred(CAR, CARPOOL), *_between(0, node, at, at)]
            assert (collision([list(range(5))], [], edges, 5) == ()) is possible


@pytest.mark.parametrize(
    ("journey", "possible"), [((30, 50), True), ((40, 40), True), ((41, 41), False), ((45, 45), False)]
)
def test_train(journey, possible):
    """A course exercise, read: leaves 7:50..8:00, 10..15 min to the 8:20 train, at work before 9:00."""
    edges = [
        *_between(0, 1, 50, 60),
        *_between(1, 2, 10, 15),
        *_between(2, 3, 0, None),
        *_between(0, 3, 80, 80),
        *_between(3, 4, *journey),
        *_between(0, 4, None, 120),
    ]
    assert (collision([list(range(5))], [], edges, 5) == ()) is possible


@pytest.mark.parametrize("seed", range(10))
def test_finds_what_negative_cycles_find(seed):
    """Against networkx on 10 x 50 random networks, dense and sparse."""
    rng = random.Random(seed)
    for _ in range(50):
        nodes = rng.randint(2, 12)
        edges = [
            Edge(*rng.sample(range(nodes), 2), rng.randint(-30, 60)) for _ in range(rng.randint(1, 3 * nodes))
        ]
        graph = nx.DiGraph()
        graph.add_nodes_from(range(nodes))
        for edge in edges:
            known = graph.get_edge_data(edge.tail, edge.head, {"weight": 1000})["weight"]
            graph.add_edge(edge.tail, edge.head, weight=min(known, edge.seconds))
        demands = collision([list(range(nodes))], [], edges, nodes)
        assert bool(demands) == nx.negative_edge_cycle(graph)
        if demands:
            assert sum(edge.seconds for edge in demands) < 0
            around = [*demands, demands[0]]
            assert all(a.head == b.tail for a, b in pairwise(around))


@pytest.mark.parametrize(
    ("window", "counted_from", "possible"),
    [
        ((5, 10), "end", True),  # may wait for the real end
        ((35, 40), "start", True),  # fits the longest bout
        ((25, 40), "start", True),  # may be measured as late as the longest bout asks
        ((5, 29), "start", False),  # a bout of 30 min runs over it
    ],
)
def test_what_follows_a_bout_of_8_to_30_minutes(window, counted_from, possible):
    start, end, measure = 0, 1, 2
    bout = Contingent(start, end, Edge(end, start, -30 * MINUTE), Edge(start, end, 8 * MINUTE))
    edges = _between(end, measure, 0, None) + _between(
        end if counted_from == "end" else start, measure, *window
    )
    assert (collision([[start], [measure]], [bout], edges, 3) == ()) is possible


def test_what_lies_inside_a_bout_must_fit_its_shortest_length():
    start, end, inside = 0, 1, 2
    bout = Contingent(start, end, Edge(end, start, -30 * MINUTE), Edge(start, end, 8 * MINUTE))
    for at, possible in [(8, True), (9, False)]:
        edges = _between(start, inside, at, at) + _between(inside, end, 0, None)
        assert (collision([[start, inside], []], [bout], edges, 3) == ()) is possible


def _project(durations, after, deadline):
    """Activities as starts (node n) and one end: each after those before it, all by the deadline."""
    names = list(durations)
    end, zero = len(names), len(names) + 1
    edges = _between(zero, end, None, deadline)
    for name, length in durations.items():
        node = names.index(name)
        edges += _between(zero, node, 0, None) + _between(node, end, length, None)
        for before in after.get(name, ""):
            edges += _between(names.index(before), node, durations[before], None)
    return edges, len(names) + 2


# a lecture's worked table (read): critical A B D E G, slack of C and F 1
LECTURE = ({"A": 6, "B": 2, "C": 2, "D": 3, "E": 4, "F": 2, "G": 1},
           {"B": "A", "C": "A", "D": "B", "F": "C", "E": "DF", "G": "E"}, 16, set("ABDEG"))  # fmt: skip
# a homework-solution page (read; predecessors inferred from its list of paths): critical A D G
HOMEWORK = (
    {"A": 8, "B": 4, "C": 3, "D": 5, "E": 1, "F": 2, "H": 6, "G": 7, "I": 9, "J": 6},
    {"D": "A", "E": "A", "F": "C", "H": "C", "G": "D", "I": "BEF", "J": "H"},
    20,
    set("ADG"),
)


@pytest.mark.parametrize(("durations", "after", "length", "critical"), [LECTURE, HOMEWORK])
def test_critical_path_tables(durations, after, length, critical):
    """The printed length can be kept and a minute less cannot; what collides then is the critical path."""
    edges, nodes = _project(durations, after, length)
    assert collision([list(range(nodes))], [], edges, nodes) == ()
    edges, nodes = _project(durations, after, length - 1)
    demands = collision([list(range(nodes))], [], edges, nodes)
    assert sum(edge.seconds for edge in demands) == -MINUTE
    names = list(durations)
    on_path = {names[node] for edge in demands for node in (edge.tail, edge.head) if node < len(names)}
    assert on_path == critical
