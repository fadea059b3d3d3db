"""Mend a running plan with the fewest changes; what has begun stays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from planner.packing.troubles import Troubles
from planner.schedule.model import Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan


def repack(
    study: Study,
    plans: Mapping[str, VisitPlan],
    schedule: Schedule,
    *,
    now: datetime,
    troubles: Troubles,
    seconds: float = 20,
) -> Schedule:
    """The plan's next version, which holds with these troubles and differs from it least.

    What the plan starts before `now` has begun and stays exactly, save what waits for something that
    has not ended. Fewest participants are touched, then fewest blocks, then by the smallest shifts.
    """
    changed = replace(schedule, version=schedule.version + 1, replaces=schedule.version, changes=())
    if troubles.are_none:
        return changed
    raise NotImplementedError
