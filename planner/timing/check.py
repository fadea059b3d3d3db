"""Warnings about a valid protocol's timing: `timing_warnings(protocol) -> tuple[Fault, ...]`.

NumPy is imported only where there is something to warn of.
"""

from __future__ import annotations

from planner.faults import Fault
from planner.protocol.model import KeyPath, Protocol
from planner.timing.bounds import lengths_of, longest_s, shortest_s
from planner.timing.demands import words_of
from planner.timing.expand import Outline, expand
from planner.timing.network import Collision, collisions, never_reached


def timing_warnings(protocol: Protocol) -> tuple[Fault, ...]:
    """A warning with its chance for each demand that is kept only if blocks end early.

    Empty for a contradictory protocol: its faults come first. Also warns of time points with
    `if_reached` that not even the longest bout reaches.
    """
    missed = never_reached(protocol)
    outline = expand(protocol, missed)
    if collisions(outline, lengths_of(outline, shortest_s)):
        return ()
    late = collisions(outline, lengths_of(outline, longest_s))
    chances = _chances(protocol, late)
    warnings = [_kept_by_luck(outline, found, chance) for found, chance in zip(late, chances, strict=True)]
    warnings += [_never_reached(protocol, path) for path in sorted(missed, key=str)]
    return tuple(sorted(warnings, key=lambda fault: (fault.place.line, fault.place.column)))


def _kept_by_luck(outline: Outline, found: Collision, chance: float) -> Fault:
    subject, arithmetic = words_of(outline, found.demands, found.broken)
    link = found.broken.link
    if link is None:
        raise AssertionError("lengths alone cannot collide")
    kept = _hundredths(chance)
    message = (
        f"{subject} can be kept only if blocks end early (kept in {kept} of 100 simulated visits): "
        f"with the most efforts, {arithmetic}"
    )
    hint = "`testday time PROTOCOL --suggest` lists changes that would mend it."
    return Fault(outline.protocol.place(*link.path), "kept only if blocks end early", message, hint)


def _hundredths(share: float) -> str:
    """A share as so many of 100; neither 0 nor 100 unless it is."""
    if 0 < share < 0.01:
        return "fewer than 1"
    if 0.99 < share < 1:
        return "more than 99"
    return f"{share * 100:.0f}"


def _chances(protocol: Protocol, found: list[Collision]) -> list[float]:
    """The chance that all demands of each collision are kept after all."""
    if not found:
        return []
    from planner.timing.simulate import simulate

    draws = simulate(protocol)
    shares = []
    for one in found:
        demands = {(edge.link.why, edge.link.path) for edge in one.demands if edge.link}
        links = [link for link in draws.outline.links if (link.why, link.path) in demands]
        shares.append(draws.chance_of_links(links).share)
    return shares


def _never_reached(protocol: Protocol, path: KeyPath) -> Fault:
    message = "not even the longest bout reaches this time point: it will never be measured"
    return Fault(protocol.place(*path), "never reached", message, "Drop it, or lengthen `longest`.")
