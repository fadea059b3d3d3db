"""How long rigs and people are free before each block with a window: what a delay may eat."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from datetime import date, datetime

from planner.schedule.model import Activity
from planner.schedule.rules.busy import Busy, people_times, rig_times
from planner.schedule.rules.case import Case, Judged, second
from planner.timing.plan import Moment

Duties = Mapping[tuple[str, date], list[Busy]]


def spares(case: Case) -> Iterator[int]:
    """Seconds from the end of the last duty towards anyone else to the start of each windowed block."""
    duties = _duties(case)
    for visit in case.visits:
        for block in _windowed(visit):
            for name in (*block.rigs, *block.staff.values()):
                own = duties.get((name, visit.placed.date), [])
                begin = second(block.start)
                done = bisect_right(own, begin, key=_end)
                before = next((one for one in reversed(own[:done]) if one.visit is not visit), None)
                if before:
                    yield begin - before.end


def _windowed(visit: Judged) -> Iterator[Activity]:
    """The placed activities that begin (with `before`: end) a time point."""
    for window in visit.plan.windows if visit.plan else ():
        point = window.later if window.later.moment is not Moment.START else window.earlier
        if point.activity in visit.by_index:
            yield visit.by_index[point.activity]


def _duties(case: Case) -> Duties:
    """When each rig and person is taken, by date; by end."""
    found: dict[tuple[str, date], list[Busy]] = {}
    for times in (rig_times(case), people_times(case)):
        for name, own in times.items():
            for busy in own:
                on = datetime.fromtimestamp(busy.start, tz=case.study.zone).date()
                found.setdefault((name, on), []).append(busy)
    return {which: sorted(times, key=_end) for which, times in found.items()}


def _end(busy: Busy) -> int:
    return busy.end
