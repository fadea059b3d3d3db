"""Visits that no plan can hold any more, so that no bound counts them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import date

from planner.packing.mend.day import MendedDay
from planner.packing.mend.elsewhere import has_day_but
from planner.packing.problem import VisitKey, key
from planner.packing.running import Running
from planner.schedule.model import PlacedVisit, Schedule

LOST = "visits_lost"
CANCELLED = "cancelled on"  # a day; so begins what is said of a visit that found no other


def cannot_come(
    before: Schedule,
    running: Running,
    away: Sequence[PlacedVisit],
    days: Mapping[date, MendedDay],
    today: date,
) -> int:
    """How many visits have no place in any plan: cancelled, or lost on a day, and there is no other day.

    Where another day is open, moving others might make room on it: that is not looked for.
    """
    cancelled = {key(visit): visit.date for visit in away} | dict(_cancelled_before(before))
    gone = sum(
        key(visit) in cancelled
        and key(visit) not in running.visits
        and not has_day_but(running, visit, cancelled[key(visit)], today)
        for visits in running.study.asked.values()
        for visit in visits
    )
    for day, mended in days.items():
        if not any(one >= today and one != day for one in running.study.open):
            gone += (mended.bounds or {}).get(LOST, 0)
    return gone


def _cancelled_before(schedule: Schedule) -> Iterator[tuple[VisitKey, date]]:
    """Visits that an earlier mend left without a place because their day was cancelled, with that day."""
    for left in schedule.not_placed:
        if left.message.startswith(CANCELLED):
            with suppress(ValueError):  # a person may have written these words anew
                day = date.fromisoformat(left.message.removeprefix(CANCELLED).split(";")[0].strip())
                yield (left.participant, left.visit), day


def known_to_lack(schedule: Schedule) -> int:
    """How many visits the plan says that no plan can place."""
    bounds = [stage.bound for stage in schedule.stages if stage.name == "placed"]
    return schedule.asked - min(bounds, default=schedule.asked)
