"""Each day, each rig that is used, is checked before its first use, within opening hours."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from planner.schedule.model import Broken, RigTask
from planner.schedule.rules.busy import Busy, rig_times
from planner.schedule.rules.case import Case, clock, second, span_words
from planner.schedule.rules.serving import staffing
from planner.study.model import FirstUse


def before_first_use(case: Case) -> Iterator[Broken]:
    """A task that is long enough, in time and rightly staffed, for each used rig of such a class."""
    tasks: dict[tuple[str, date], list[RigTask]] = defaultdict(list)
    for task in case.schedule.rig_tasks:
        tasks[task.rig, task.start.date()].append(task)
    for (rig, on), first in sorted(_first_uses(case).items()):
        left = list(tasks.get((rig, on), []))
        for name in case.study.rig(rig).classes:
            if demand := case.study.before_first_use.get(name):
                yield from _checked(case, first, demand, left)


def _first_uses(case: Case) -> dict[tuple[str, date], Busy]:
    """The first use by a participant of each known rig on each day."""
    known = {rig.id for rig in case.study.rigs}
    found: dict[tuple[str, date], Busy] = {}
    for rig, times in rig_times(case).items():
        for busy in sorted(times, key=lambda one: one.start):
            if busy.visit and busy.activity and rig in known:
                found.setdefault((rig, busy.activity.start.date()), busy)
    return found


def _checked(case: Case, first: Busy, demand: FirstUse, left: list[RigTask]) -> Iterator[Broken]:
    """What is wrong with the task that meets this demand; a task that meets it is used up."""
    assert first.visit
    assert first.activity
    if not left:
        words = f"{first.name} is used at {clock(first.activity.start)} without having been checked that day"
        yield first.visit.broken("first-use", words)
        return
    faults = [(list(_faults(case, first, demand, task)), number) for number, task in enumerate(left)]
    wrong, number = min(faults, key=lambda one: (len(one[0]), one[1]))
    for message in wrong:
        yield first.visit.broken("first-use", message)
    del left[number]


def _faults(case: Case, first: Busy, demand: FirstUse, task: RigTask) -> Iterator[str]:
    assert first.activity
    what = f"the check of {task.rig} at {clock(task.start)}"
    length = second(task.end) - second(task.start)
    if length < demand.takes_s:
        yield f"{what} lasts {span_words(length)}; it takes {span_words(demand.takes_s)}"
    if second(task.end) > first.start:
        yield f"{what} ends at {clock(task.end)}, after the first use at {clock(first.activity.start)}"
    hours = case.study.open.get(task.start.date(), ())
    start, end = second(task.start), second(task.end)
    if not any(second(one.start) <= start and end <= second(one.end) for one in hours):
        yield f"{what} lies outside opening hours"
    for message, _ in staffing(case, demand.staff, task.staff):
        yield f"{what}: {message}"


def idle_tasks(case: Case) -> Iterator[Broken]:
    """A warning for tasks of rigs that nobody uses that day, and a broken rule for unknown rigs."""
    used = set(_first_uses(case))
    for task in case.schedule.rig_tasks:
        if (task.rig, task.start.date()) not in used:
            words = f"{task.rig} is checked on {task.start.date()}, and nobody uses it that day"
            yield Broken("idle-check", None, None, words)


def tasks_known(case: Case) -> Iterator[Broken]:
    """Rig tasks name rigs and people of the study."""
    known = {rig.id for rig in case.study.rigs} | {person.id for person in case.study.people}
    for task in case.schedule.rig_tasks:
        for name in (task.rig, *task.staff.values()):
            if name not in known:
                words = (
                    f"the check on {task.start:%Y-%m-%d %H:%M} names {name}, which the study does not have"
                )
                yield Broken("first-use", None, None, words)


RULES = (before_first_use, tasks_known)
