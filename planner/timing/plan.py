"""One visit as activities in order and the distances between them.

Every number is whole seconds. `Link`s carry all that the formats ask of the times of one visit:
order, windows, `starts_within`, what lies inside a bout. Packing turns each link into a constraint;
nothing else about time within one visit needs to be known there.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from planner.protocol.model import Clearing, KeyPath, Protocol, Watch


class Kind(StrEnum):
    """What an activity is."""

    TASK = "task"
    BOUT = "bout"
    BLOCK = "block"
    REST = "rest"


class Moment(StrEnum):
    """A moment of an activity: start of preparing, start of the first effort, end of the last."""

    START = "start"
    FIRST_EFFORT = "first effort"
    END = "end"


class Point(NamedTuple):
    """A moment of the activity with this index."""

    activity: int
    moment: Moment


class Why(StrEnum):
    """Which rule a link stands for."""

    ORDER = "order"
    DUE = "due"
    STARTS_WITHIN = "starts within"
    INSIDE = "inside the bout"


@dataclass(frozen=True, slots=True)
class Link:
    """low_s <= time(later) - time(earlier) <= high_s; None leaves that side open.

    `target_s` is the distance that the protocol writes (its `at`), where the link is a window.
    `path` is where the demand stands in the protocol file.
    """

    earlier: Point
    later: Point
    low_s: int | None
    high_s: int | None
    why: Why
    target_s: int | None = None
    path: KeyPath = ()


@dataclass(frozen=True, slots=True)
class PlannedActivity:
    """One task, bout, block or rest of the visit, at its planned length.

    `length_s` runs from the start of preparing to the end of the last effort; `shortest_s` and
    `longest_s` are its bounds. `rigs` are classes, `staff` roles. `keeps` are the classes whose rig
    stays with the participant for the next activity (which has the same class in `rigs`) and is not
    cleared here. `inside` is the index of the bout around it. `at_s` is the time written in `at`.
    """

    index: int
    step: str
    kind: Kind
    at_s: int | None
    manoeuvre: str | None
    rigs: tuple[str, ...]
    staff: tuple[str, ...]
    prepare_s: int
    length_s: int
    shortest_s: int
    longest_s: int
    planned_efforts: int | None
    clear: Clearing | None  # None also where every rig is kept for the next activity
    keeps: tuple[str, ...]
    watch: Watch | None
    inside: int | None
    path: KeyPath


@dataclass(frozen=True, slots=True)
class VisitPlan:
    """One visit: activities in order (those inside a bout right after it), links, and the planned layout.

    `starts_s[i]` is the start of activity i counted from the visit's, when the visit has the
    laboratory alone: due steps at `at` or as soon after as can be, other steps at once. `alone_s` is
    that layout's length (last end). `shortest_s`, `longest_s`: the exact bounds of the visit.
    `windows` are the links with why = DUE, a link a time point, in order.
    """

    protocol: Protocol
    plan_on: Decimal  # a share, such as 0.80
    activities: tuple[PlannedActivity, ...]
    links: tuple[Link, ...]
    starts_s: tuple[int, ...]
    alone_s: int
    shortest_s: int
    longest_s: int

    @property
    def windows(self) -> tuple[Link, ...]:
        """The links that are windows of time points."""
        return tuple(link for link in self.links if link.why is Why.DUE)
