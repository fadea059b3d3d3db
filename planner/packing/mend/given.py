"""The plan that is to be mended: what it breaks before anything is mended."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.packing.problem import key
from planner.schedule.model import Broken, Schedule
from planner.schedule.verify import verify
from planner.study.model import Study, Visit
from planner.timing.plan import VisitPlan

ABOUT_NEWCOMERS = ("all-asked", "asked")


def newcomers(schedule: Schedule, study: Study) -> Iterator[Visit]:
    """Visits asked for of which the plan says nothing, as of somebody who replaces another."""
    told = {key(visit) for visit in schedule.visits}
    told |= {(left.participant, left.visit) for left in schedule.not_placed}
    yield from (visit for visits in study.asked.values() for visit in visits if key(visit) not in told)


def broken_before(schedule: Schedule, study: Study, plans: Mapping[str, VisitPlan]) -> tuple[Broken, ...]:
    """Every rule that the plan breaks as it is given.

    What an earlier mend lists as not kept is none of them; nor are visits that the study asks for since
    the plan was made. A visit that the plan counts as asked for, and does not name, is missing.
    """
    broken = verify(schedule, study, plans).broken
    since = sum(1 for _ in newcomers(schedule, study))
    if since and schedule.asked + since == sum(map(len, study.asked.values())):
        return tuple(one for one in broken if one.rule not in ABOUT_NEWCOMERS)
    return broken
