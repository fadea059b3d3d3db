"""Distances between moments, and the cycle of demands that cannot all hold.

A demand "time(later) - time(earlier) <= seconds" is an edge. Moments are eliminated one after the
other; what an eliminated moment asked of two others stays as an edge between these, which remembers
the two it was made of (Fourier-Motzkin elimination for differences; Dechter, Meiri, Pearl, Artif
Intell 1991;49:61-95, call it directional path consistency). A demand of a moment on itself below
zero is a contradiction, and unfolding it gives the demands that collide.

The end of a bout of unknown length is not ours to choose, but everything later may wait for it. So
all that lies after it is eliminated first, for any end; then the demands on the end itself must hold
at its worst: an upper side "end <= u + s" at the longest length, a lower side "v <= end + s" at the
shortest, both counted from the bout's start. What is settled before or during the bout then never
depends on its end, what comes later may: the visit is dynamically controllable (Vidal and Fargier,
J Exp Theor Artif Intell 1999;11:23-45, from memory).
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from planner.timing.plan import Link

Node = int


@dataclass(frozen=True, slots=True)
class Edge:
    """time(head) - time(tail) <= seconds.

    It stands for a side of a link, for a length (`spot` with `of`), or for two edges in a row.
    """

    tail: Node
    head: Node
    seconds: int
    link: Link | None = None
    upper: bool = False
    spot: int | None = None
    of: str = ""  # "prepare", "efforts", "length", "shortest", "longest"
    parts: tuple[Edge, Edge] | None = None

    def demands(self) -> Iterator[Edge]:
        """The edges it was made of, in a row from tail to head."""
        waiting = [self]
        while waiting:
            edge = waiting.pop()
            if edge.parts is None:
                yield edge
            else:
                waiting += reversed(edge.parts)


@dataclass(frozen=True, slots=True)
class Contingent:
    """A bout of unknown length: its start, its end, and the edges of its worst lengths."""

    start: Node
    end: Node
    longest: Edge  # from end to start: -longest
    shortest: Edge  # from start to end: +shortest


class Distances:
    """The tightest edge between any two moments that have not been eliminated."""

    def __init__(self, nodes: int, edges: Sequence[Edge]) -> None:
        self.out: list[dict[Node, Edge]] = [{} for _ in range(nodes)]
        self.into: list[dict[Node, Edge]] = [{} for _ in range(nodes)]
        self.cycle: Edge | None = None
        for edge in edges:
            self.add(edge)

    def add(self, edge: Edge) -> None:
        """Take an edge if it says more than what is known; note the first contradiction."""
        if edge.tail == edge.head:
            if edge.seconds < 0 and self.cycle is None:
                self.cycle = edge
            return
        known = self.out[edge.tail].get(edge.head)
        if known is None or edge.seconds < known.seconds:
            self.out[edge.tail][edge.head] = edge
            self.into[edge.head][edge.tail] = edge

    def eliminate(self, node: Node) -> None:
        """Drop a moment that may be chosen last; what it asked of the others stays."""
        into, out = list(self.into[node].values()), list(self.out[node].values())
        self._forget(node)
        for first in into:
            for second in out:
                self.add(_joined(first, second))

    def settle(self, bout: Contingent) -> None:
        """Drop the end of a bout: demands on it must hold at its longest, and at its shortest."""
        into, out = list(self.into[bout.end].values()), list(self.out[bout.end].values())
        self._forget(bout.end)
        for edge in into:
            self.add(_joined(edge, bout.longest))
        for edge in out:
            self.add(_joined(bout.shortest, edge))

    def degree(self, node: Node) -> int:
        """How much work it is to eliminate a moment."""
        return len(self.into[node]) * len(self.out[node])

    def neighbours(self, node: Node) -> set[Node]:
        """The moments that share an edge with this one."""
        return self.into[node].keys() | self.out[node].keys()

    def _forget(self, node: Node) -> None:
        for tail in self.into[node]:
            del self.out[tail][node]
        for head in self.out[node]:
            del self.into[head][node]
        self.into[node], self.out[node] = {}, {}


def _joined(first: Edge, second: Edge) -> Edge:
    return Edge(first.tail, second.head, first.seconds + second.seconds, parts=(first, second))


def collision(
    phases: Sequence[Sequence[Node]], bouts: Sequence[Contingent], edges: Sequence[Edge], nodes: int
) -> tuple[Edge, ...]:
    """Demands that collide, in a row that ends where it begins; empty where all can be kept.

    `phases[k]` are the moments to choose after the end of bout k - 1 and before that of bout k
    (those inside bout k among them); the ends themselves are in no phase.
    """
    distances = Distances(nodes, edges)
    for number in range(len(phases) - 1, -1, -1):
        if number < len(bouts):
            distances.settle(bouts[number])
        _eliminate_all(distances, phases[number])
        if distances.cycle is not None:
            return tuple(distances.cycle.demands())
    return ()


def _eliminate_all(distances: Distances, nodes: Sequence[Node]) -> None:
    """Eliminate the moments of a phase, always one with the fewest neighbours, of equals the last."""
    left = set(nodes)
    heap = [(distances.degree(node), -node) for node in nodes]
    heapq.heapify(heap)
    while heap and distances.cycle is None:
        degree, key = heapq.heappop(heap)
        node = -key
        if node not in left:
            continue
        if degree != distances.degree(node):
            heapq.heappush(heap, (distances.degree(node), key))
            continue
        left.remove(node)
        near = distances.neighbours(node) & left
        distances.eliminate(node)
        for other in near:
            heapq.heappush(heap, (distances.degree(other), -other))
