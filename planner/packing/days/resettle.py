"""Visits that found no place beside the others: their participant chooses all days anew, then one other too.

A place taken early can shut out a later visit of the same participant: the days between visits, the time of
day, a rig that is kept, a person who is wished for. So the whole chain is taken out and put in again, the
visit that found no place first; then the same together with one other participant's chain.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from planner.packing.budget import Budget
from planner.packing.days.polish import add
from planner.packing.days.templates import rigs_used
from planner.packing.problem import VisitKey, key
from planner.packing.running import Running
from planner.schedule.model import PlacedVisit, RigTask
from planner.study.model import Visit

OWN_TRIES = 60  # days tried for one chain before it is given up
MOST_OTHERS = 20  # other participants whose chain is taken out as well, one at a time

_State = tuple[dict[VisitKey, PlacedVisit], dict[date, tuple[RigTask, ...]]]


def resettle(running: Running, budget: Budget) -> None:
    """Places visits that have none by choosing their participant's days anew; nothing placed is lost."""
    for who in dict.fromkeys(visit.participant for visit in running.missing()):
        if budget.is_over:
            return
        if not _again(running, [who], budget):
            for other in _neighbours(running, who)[:MOST_OTHERS]:
                if budget.is_over or _again(running, [who, other], budget):
                    break


def _neighbours(running: Running, who: str) -> list[str]:
    """Who comes on the most days on which this participant might come; the order of the study breaks ties."""
    days = {day for visit in running.study.asked[who] for day in running.hours.lines(visit)}
    shared: dict[str, int] = {}
    for visit in running.visits.values():
        if visit.participant != who and visit.date in days:
            shared[visit.participant] = shared.get(visit.participant, 0) + 1
    return sorted(shared, key=lambda p: (-shared[p], running.study.participants.index(p)))


def _again(running: Running, people: Sequence[str], budget: Budget) -> bool:
    """Whether all these participants' visits have a place now; else everything is as it was."""
    before: _State = dict(running.visits), dict(running.tasks)
    missing = {key(visit) for visit in running.missing()}
    asked = [visit for who in people for visit in running.study.asked[who]]
    for visit in asked:
        running.visits.pop(key(visit), None)
    drop_idle_tasks(running)
    order = sorted(asked, key=lambda v: (people.index(v.participant), key(v) not in missing))
    if _placed(running, order, iter(range(OWN_TRIES * len(people))), budget):
        return True
    running.put_back(*before)
    return False


def _placed(running: Running, order: Sequence[Visit], tries: Iterator[int], budget: Budget) -> bool:
    """Whether the visits found places one after another, going back where one found none."""
    if not order:
        return True
    first, rest = order[0], order[1:]
    for day in running.days_for(first):
        if budget.is_over or next(tries, None) is None:
            return False
        tasks = running.tasks.get(day, ())
        if not add(running, first, day, 0.0, budget):
            continue
        if _placed(running, rest, tries, budget):
            return True
        del running.visits[key(first)]
        running.tasks[day] = tasks
    return False


def drop_idle_tasks(running: Running) -> None:
    """Leave a day only the first tasks of rigs that it still uses."""
    for day, tasks in running.tasks.items():
        used = rigs_used(running.on(day))
        running.tasks[day] = tuple(task for task in tasks if task.rig in used)
