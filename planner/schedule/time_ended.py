"""A mend whose time ended before its search was through: whoever reads the plan must hear that first."""

from __future__ import annotations

from datetime import date

from planner.schedule.model import Reason, Schedule

TIME_ENDED = "the time ended before the search for fewer changes was through"
HEAD = "Mended as well as was found: the time ended before the search was through, a better plan may exist."


def time_ended_on(day: date) -> Reason:
    """What is said of a day for which not every way was tried."""
    return Reason(f"{day}: {TIME_ENDED}; with more seconds a better plan may be found")


def is_time_ended(reason: Reason) -> bool:
    """Whether this says that the time ended before a search was through."""
    return TIME_ENDED in reason.message


def time_ended(schedule: Schedule) -> bool:
    """Whether the plan was handed over before the search for it was through."""
    return any(map(is_time_ended, schedule.reasons))
