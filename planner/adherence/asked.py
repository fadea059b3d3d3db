"""What a protocol asks of one visit: its blocks in order, and its time points."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from planner.protocol.model import Manoeuvre, Protocol, Step, TimePoint
from planner.timing.expand import Spot, expand


class Label(NamedTuple):
    """What an efforts file calls a block: step, the time in `at`, manoeuvre."""

    step: str
    at_s: int | None
    manoeuvre: str


@dataclass(frozen=True, slots=True)
class BlockAsked:
    """One block; `important` is None where it belongs to no time point."""

    label: Label
    manoeuvre: Manoeuvre
    important: bool | None = None


@dataclass(frozen=True, slots=True)
class PointAsked:
    """One time point. `side`: after, before, during; `anchored`: the start or end of `anchor`.

    `blocks` are those of this occurrence, in order; none where the step has no blocks.
    """

    step: str
    window: TimePoint
    side: str
    anchor: str
    anchored: str
    blocks: tuple[Label, ...]
    important: bool
    if_reached: bool = False

    @property
    def low_s(self) -> int:
        """The earliest second from the anchor (the smallest gap before it) that is on time."""
        early_s = self.window.late_s if self.side == "before" else self.window.early_s
        return self.window.at_s - early_s

    @property
    def high_s(self) -> int:
        """The latest second from the anchor (the largest gap before it) that is on time."""
        late_s = self.window.early_s if self.side == "before" else self.window.late_s
        return self.window.at_s + late_s


@dataclass(frozen=True)
class Asked:
    """One visit as asked: blocks by label in the order of the visit, time points, and the steps' ids."""

    protocol: Protocol
    blocks: dict[Label, BlockAsked]
    points: tuple[PointAsked, ...]
    steps: dict[str, Step]


def asked(protocol: Protocol) -> Asked:
    """The blocks and time points of one visit."""
    blocks: dict[Label, BlockAsked] = {}
    points: list[PointAsked] = []
    for _, group in groupby(expand(protocol).spots, key=lambda spot: (spot.occurrence, spot.path)):
        spots = list(group)
        point = _point(spots)
        if point:
            points.append(point)
        for spot in spots:
            if spot.manoeuvre:
                label = Label(spot.step.id, spot.at_s, spot.manoeuvre.id)
                blocks[label] = BlockAsked(label, spot.manoeuvre, point.important if point else None)
    return Asked(protocol, blocks, tuple(points), {step.id: step for step in protocol.visit})


def _point(spots: Sequence[Spot]) -> PointAsked | None:
    """The time point that these spots of one occurrence belong to, if there is one."""
    first = spots[0]
    window, step, due = first.time_point, first.step, first.step.due
    if window is None:
        return None
    labels = tuple(Label(step.id, window.at_s, spot.manoeuvre.id) for spot in spots if spot.manoeuvre)
    if first.inside is not None:
        during = step.during[int(first.path[3])]
        return PointAsked(
            step.id, window, "during", step.id, "start", labels, during.important, first.falls_away
        )
    assert due is not None  # a time point outside a bout comes from `due`
    return PointAsked(step.id, window, due.side, due.anchor, due.anchored, labels, due.important)
