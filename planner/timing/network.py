"""Demands of one visit that cannot all be kept: `contradictions(protocol) -> tuple[Fault, ...]`.

A simple temporal network over the starts, first efforts and ends of everything in the visit, with
every block at `at_least`. Bouts of unknown length must be keepable at every length in their range.
It needs no NumPy.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from planner.faults import Fault
from planner.protocol.model import KeyPath, Protocol
from planner.timing.bounds import lengths_of, shortest_s
from planner.timing.demands import fault_of, plan_fault_of
from planner.timing.distances import Contingent, Edge, collision
from planner.timing.expand import Outline, Spot, expand
from planner.timing.plan import Kind, Link, Moment, Point, VisitPlan, Why
from planner.timing.sequence import Lengths

_MOST_FAULTS = 20  # a protocol with more has one cause, and twenty chains are enough to find it


def contradictions(protocol: Protocol) -> tuple[Fault, ...]:
    """Every set of demands that collide, one fault each, at the line of the time point that breaks.

    Once a set is found, its breaking side is dropped and the rest is looked at again, so that each
    fault stands on its own.
    """
    outline = expand(protocol, never_reached(protocol))
    faults = [
        fault_of(outline, found.demands, found.broken)
        for found in collisions(outline, lengths_of(outline, shortest_s))
    ]
    return tuple(sorted(faults, key=lambda fault: (fault.place.line, fault.place.column)))


@dataclass(frozen=True, slots=True)
class Collision:
    """Demands that collide, and the one among them at which it shows."""

    demands: tuple[Edge, ...]
    broken: Edge


def collisions(outline: Outline, lengths: Lengths) -> list[Collision]:
    """Collisions at these lengths of blocks, for any length of the bouts; the first of each demand."""
    links = list(outline.links)
    found: dict[KeyPath, Collision] = {}
    while len(found) < _MOST_FAULTS:
        demands = colliding(outline, links, lengths, are_unknown=True)
        if not demands:
            break
        broken = breaking(demands)
        if broken.link is None:
            raise AssertionError("lengths alone cannot collide")
        found.setdefault(broken.link.path, Collision(demands, broken))
        links[links.index(broken.link)] = without_side(broken)
    return list(found.values())


def never_reached(protocol: Protocol) -> frozenset[KeyPath]:
    """Time points with `if_reached` that not even the longest bout reaches."""
    found: set[KeyPath] = set()
    for number, step in enumerate(protocol.visit):
        if step.takes is None or step.takes.is_known:
            continue
        for entry, during in enumerate(step.during):
            first = protocol.manoeuvres[during.measure[0]]
            least = sum(
                protocol.manoeuvres[name].length_s(protocol.manoeuvres[name].at_least)
                for name in during.measure
            )
            found |= {
                ("visit", number, "during", entry, "at", which)
                for which, point in enumerate(during.time_points)
                if during.if_reached
                and point.at_s - point.early_s - first.prepare_s + least > step.takes.longest_s
            }
    return frozenset(found)


def first_collision_of_plan(plan: VisitPlan) -> Fault | None:
    """What of a plan cannot be kept at its own lengths, with bouts at `about`; None where all can."""
    outline = expand(plan.protocol, _left_out(plan))
    prepare = [activity.prepare_s for activity in plan.activities]
    lengths = Lengths(prepare, [activity.length_s for activity in plan.activities], [0] * len(prepare))
    demands = colliding(outline, list(plan.links), lengths, are_unknown=False)
    return plan_fault_of(outline, plan, demands, breaking(demands)) if demands else None


def _left_out(plan: VisitPlan) -> frozenset[KeyPath]:
    """The time points inside bouts that the plan does not show."""
    shown = {activity.path for activity in plan.activities}
    every = {spot.path for spot in expand(plan.protocol).spots}
    return frozenset(every - shown)


def colliding(
    outline: Outline, links: Sequence[Link], lengths: Lengths, *, are_unknown: bool
) -> tuple[Edge, ...]:
    """The demands that collide at these lengths; with `are_unknown`, bouts take any length in their range."""
    open_ends = _open_ends(outline) if are_unknown else {}
    edges = [edge for spot in outline.spots for edge in _length_edges(spot, lengths, spot.index in open_ends)]
    edges += [edge for link in links for edge in _link_edges(outline, link)]
    phases: list[list[int]] = [[]]
    for spot in outline.spots:
        previous = _bout_before(outline, spot, open_ends)
        while len(phases) <= previous:
            phases.append([])
        phases[previous] += [node(spot.index, Moment.START), node(spot.index, Moment.FIRST_EFFORT)]
        if spot.index not in open_ends:
            phases[previous].append(node(spot.index, Moment.END))
    bouts = list(open_ends.values())
    return collision(phases, bouts, edges, 3 * len(outline.spots))


def node(activity: int, moment: Moment) -> int:
    """The number of a moment in the network."""
    return 3 * activity + _PLACE[moment]


_PLACE = {Moment.START: 0, Moment.FIRST_EFFORT: 1, Moment.END: 2}


def _open_ends(outline: Outline) -> dict[int, Contingent]:
    """The bouts and tasks of unknown length, in order."""
    found = {}
    for index in outline.chain:
        takes = outline.spots[index].step.takes
        if takes is None or takes.is_known:
            continue
        start, end = node(index, Moment.START), node(index, Moment.END)
        longest = Edge(end, start, -takes.longest_s, spot=index, of="longest")
        shortest = Edge(start, end, takes.shortest_s, spot=index, of="shortest")
        found[index] = Contingent(start, end, longest, shortest)
    return found


def _bout_before(outline: Outline, spot: Spot, open_ends: dict[int, Contingent]) -> int:
    """How many bouts of unknown length have ended before the spot starts."""
    own = spot.index if spot.inside is None else spot.inside
    return sum(bout < own for bout in open_ends)


def _length_edges(spot: Spot, lengths: Lengths, is_unknown: bool) -> list[Edge]:
    start, first, end = (node(spot.index, moment) for moment in _PLACE)
    prepare, whole = lengths.prepare[spot.index], lengths.whole[spot.index]
    edges = _both_ways(start, first, prepare, spot.index, "prepare")
    if is_unknown or spot.kind is Kind.REST:  # a rest has a link of its own: it may be longer
        return edges
    return edges + _both_ways(
        first, end, whole - prepare, spot.index, "efforts" if spot.manoeuvre else "length"
    )


def _both_ways(tail: int, head: int, seconds: int, spot: int, of: str) -> list[Edge]:
    return [Edge(tail, head, seconds, spot=spot, of=of), Edge(head, tail, -seconds, spot=spot, of=of)]


def _link_edges(outline: Outline, link: Link) -> list[Edge]:
    if (
        link.why is Why.INSIDE
        and link.later.moment is Moment.END
        and outline.spots[link.earlier.activity].falls_away
    ):
        return []  # where the bout does not last that long, the block is not done at all
    tail, head = node(*link.earlier), node(*link.later)
    edges = []
    if link.high_s is not None:
        edges.append(Edge(tail, head, link.high_s, link=link, upper=True))
    if link.low_s is not None:
        edges.append(Edge(head, tail, -link.low_s, link=link))
    return edges


def breaking(demands: Sequence[Edge]) -> Edge:
    """The demand at which a collision shows: the upper side that comes last in the visit.

    A collision without one is a block that does not fit into its bout: its window's lower side.
    """
    linked = [edge for edge in demands if edge.link is not None]
    uppers = [edge for edge in linked if edge.upper]
    windows = [edge for edge in linked if edge.link is not None and edge.link.why is Why.DUE]
    inside = [edge for edge in linked if edge.link is not None and edge.link.why is Why.INSIDE]
    return max(
        uppers or windows or inside or linked or list(demands), key=lambda edge: max(edge.tail, edge.head)
    )


def without_side(edge: Edge) -> Link:
    """The link of an edge without the side that the edge stands for."""
    if edge.link is None:
        raise ValueError("a length has no side to drop")
    return replace(edge.link, high_s=None) if edge.upper else replace(edge.link, low_s=None)


def points(edge: Edge) -> tuple[Point, Point]:
    """The two moments of an edge."""
    moments = tuple(_PLACE)
    return (
        Point(edge.tail // 3, moments[edge.tail % 3]),
        Point(edge.head // 3, moments[edge.head % 3]),
    )
