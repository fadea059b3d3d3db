"""When a part of the visit is due, counted from the recorded end (or start) of what it is due after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from planner.clock import duration_words, later, seconds_between
from planner.timing.plan import Link, Moment, PlannedActivity, VisitPlan


@dataclass(frozen=True, slots=True)
class Due:
    """The window of a time point on the clock; both ends are on time. `after` says from what it counts."""

    at: datetime
    not_before: datetime
    not_after: datetime
    after: str

    def word(self, moment: datetime) -> str:
        """`early`, `due` or `late`: where that moment lies to the window."""
        if moment.timestamp() < self.not_before.timestamp():
            return "early"
        return "late" if moment.timestamp() > self.not_after.timestamp() else "due"

    def words(self, now: datetime) -> str:
        """A sentence for the page: the times that still count, each once."""
        word = self.word(now)
        if word == "late":
            gone = _ago(seconds_between(self.not_after, now))
            return (
                f"{word}; the first effort was to start by {self.not_after:%H:%M:%S}, {gone}; {self.after}."
            )
        left_s = seconds_between(now, self.at)
        when = f"in {duration_words(left_s)}" if left_s > 0 else _ago(-left_s)
        least = f", not before {self.not_before:%H:%M:%S}" if self.not_before != self.at else ""
        return (
            f"{word}; start first effort at {self.at:%H:%M:%S} ({when}){least}, "
            f"not after {self.not_after:%H:%M:%S}; {self.after}."
        )


def _ago(seconds: int) -> str:
    return f"{duration_words(seconds)} ago" if seconds else "now"


def window_of(plan: VisitPlan, activity: PlannedActivity) -> Link | None:
    """The window that ends at that activity's first effort (or start), counted from something before it."""
    for link in plan.windows:
        if link.later.activity == activity.index and link.low_s is not None and link.high_s is not None:
            counted_from = plan.activities[link.earlier.activity]
            if counted_from.step != activity.step or counted_from.index == activity.inside:
                return link
    return None


def due_of(
    plan: VisitPlan,
    activity: PlannedActivity,
    starts: Mapping[int, datetime | None],
    ends: Mapping[int, datetime | None],
) -> Due | None:
    """The window on the clock, or None: no due time, or what it counts from is not recorded yet."""
    link = window_of(plan, activity)
    if link is None or activity.at_s is None or link.low_s is None or link.high_s is None:
        return None
    at_end = link.earlier.moment is Moment.END
    anchor = (ends if at_end else starts).get(link.earlier.activity)
    if anchor is None:
        return None
    target_s = activity.at_s if link.target_s is None else link.target_s
    step = plan.protocol.step(plan.activities[link.earlier.activity].step)
    after = f"{duration_words(target_s)} after the {'end' if at_end else 'start'} of {step.title}"
    return Due(later(anchor, target_s), later(anchor, link.low_s), later(anchor, link.high_s), after)
