"""A mend that came to nothing: the plan is handed back as it was, and whoever reads it must hear so first."""

from __future__ import annotations

from planner.schedule.model import Reason, Schedule

AS_IT_WAS = "stands as it was"
HEAD = "Not mended: with these troubles the plan does not hold."


def is_not_mended(reason: Reason) -> bool:
    """Whether this says that a plan, or a day of it, was not mended."""
    return AS_IT_WAS in reason.message


def not_mended(schedule: Schedule) -> tuple[Reason, ...]:
    """Why the plan, or a day of it, stands as it was though troubles were told; nothing where it does not."""
    return tuple(filter(is_not_mended, schedule.reasons))
