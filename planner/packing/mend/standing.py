"""The visits of a running day as they stand: what has begun, what still waits, what a trouble hits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from planner.clock import seconds_between
from planner.packing.mend.troubles import Span, Troubles
from planner.schedule.model import Activity, Change, PlacedVisit, RigTask
from planner.study.model import Visit
from planner.timing.plan import VisitPlan


@dataclass
class Standing:
    """One visit of the day as it stands: activities by the index of its plan.

    `begun` stay as they are; `ends` are real ends; `gone` cannot happen any more; after one of `split`
    another rig takes over, which was to stay; `earliest` is the
    first start of a participant who is late; `known` is what the plan before names as lost of it. `is_hit`
    says that a trouble speaks of this visit, `must_change` that it cannot stay as it was.
    """

    placed: PlacedVisit
    asked: Visit
    plan: VisitPlan
    by_index: Mapping[int, Activity]
    begun: set[int]
    ends: dict[int, datetime] = field(default_factory=dict)
    gone: set[int] = field(default_factory=set)
    split: set[int] = field(default_factory=set)
    earliest: datetime | None = None
    known: tuple[Change, ...] = ()
    is_hit: bool = False
    must_change: bool = False
    is_broken_off: bool = False  # a rig failed within one of its activities
    is_left: bool = False  # nobody can take over from who leaves before they clear, or stay, afterwards

    def end(self, index: int) -> datetime:
        """The end of an activity: the real one where it is known."""
        return self.ends.get(index, self.by_index[index].end)

    def length_s(self, index: int) -> int:
        """Seconds from start to (real) end; 0 for what cannot happen any more."""
        if index in self.gone:
            return 0
        return seconds_between(self.by_index[index].start, self.end(index))

    def free(self) -> list[int]:
        """What may still be moved."""
        return [i for i in self.by_index if i not in self.begun and i not in self.gone]

    def may_change(self, now: datetime) -> bool:
        """Whether anything of it may be otherwise: when it is, or who clears or stays after what runs."""
        afterwards = (i for i in self.begun if not is_before(self.end(i), now))
        return bool(self.free()) or any(
            self.by_index[i].watch or self.by_index[i].clear_staff for i in afterwards
        )


@dataclass(frozen=True)
class Facts:
    """One day: visits as they stand, and those that stay untouched because their plan is not whole.

    `unchecked` are checks of rigs that cannot be done as planned, and are still to be done. `away` and `out`
    are the times when people and rigs are not there, be it told or written in the study's files.
    """

    day: date
    now: datetime
    standings: tuple[Standing, ...]
    frozen: tuple[PlacedVisit, ...]
    troubles: Troubles
    unchecked: tuple[RigTask, ...] = ()
    away: tuple[Span, ...] = ()
    out: tuple[Span, ...] = ()


def is_before(one: datetime, two: datetime) -> bool:
    """Whether one moment comes before another, whatever their clocks show."""
    return one.timestamp() < two.timestamp()
