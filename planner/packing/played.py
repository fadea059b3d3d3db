"""One packed day played many times at once: who waits for whom, in the planned order.

The rule: each rig and each person serves in the planned order. What is not due begins at its planned
time or as soon after as rigs, people and the participant are free; a due block begins at its planned
distance from the actual moment it counts from. A break is taken whole once what is planned before it
is done; a rig's outage ends by the clock. Nobody swaps.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from planner.clock import Interval
from planner.schedule.model import Activity, PlacedVisit, RigTask
from planner.timing.plan import Link, Moment, PlannedActivity, Point, VisitPlan, Why
from planner.timing.simulate import Draws

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
A_HAIR = 1e-3  # seconds: sums of floats may miss a window's end by less


@dataclass(frozen=True)
class Role:
    """One visit of the day: its plan, its drawn lengths, and its activities by the plan's index."""

    visit: PlacedVisit
    plan: VisitPlan
    draws: Draws
    late_s: Floats
    placed: tuple[Activity, ...]


@dataclass(frozen=True)
class Event:
    """What takes its turn at a planned moment; `rank` sorts what has the same moment."""

    at_s: float
    rank: int
    visit: int  # -1: a rig task, break or outage
    activity: int
    what: str  # activity, clearing, watch, task, off
    interval: Interval | None = None
    who: tuple[str, ...] = ()


@dataclass
class Played:
    """All draws of one day, in seconds since the epoch, a row of draws for each activity."""

    draws: int
    starts: dict[tuple[int, int], Floats] = field(default_factory=dict)
    ends: dict[tuple[int, int], Floats] = field(default_factory=dict)
    free: dict[str, Floats] = field(default_factory=dict)
    watching: dict[str, tuple[int, Floats]] = field(default_factory=dict)
    waits_s: dict[str, float] = field(default_factory=dict)
    alone: dict[int, Flags] = field(default_factory=dict)

    def free_at(self, who: str, visit: int) -> Floats | float:
        """From when somebody can serve that visit; whoever watches serves the one watched only."""
        free: Floats | float = self.free.get(who, 0.0)
        watched, until = self.watching.get(who, (visit, None))
        return free if watched == visit or until is None else np.maximum(free, until)


def in_order(visit: PlacedVisit, plan: VisitPlan) -> tuple[Activity, ...]:
    """The placed activities by the index of the plan's; KeyError where one is missing."""
    rest: dict[tuple[str, int | None, str | None], list[Activity]] = {}
    for activity in sorted(visit.activities, key=lambda a: a.start.timestamp()):
        rest.setdefault((activity.step, activity.at_s, activity.manoeuvre), []).append(activity)
    return tuple(rest[a.step, a.at_s, a.manoeuvre].pop(0) for a in plan.activities)


def play_day(
    roles: Sequence[Role], tasks: Sequence[RigTask], off: Mapping[str, Sequence[Interval]], draws: int
) -> Played:
    """The day played; `off` holds the breaks of people and the outages of rigs."""
    played = Played(draws)
    for event in sorted(_events(roles, tasks, off), key=lambda e: (e.at_s, e.rank, e.visit, e.activity)):
        if event.what == "activity":
            _serve(played, roles[event.visit], event)
        elif event.what == "clearing":
            _clear(played, roles[event.visit], event)
        elif event.what == "watch":
            _watch(played, roles[event.visit], event)
        else:
            _pause(played, event)
    return played


def _events(
    roles: Sequence[Role], tasks: Sequence[RigTask], off: Mapping[str, Sequence[Interval]]
) -> Iterator[Event]:
    for number, role in enumerate(roles):
        for own, placed in zip(role.plan.activities, role.placed, strict=True):
            yield Event(placed.start.timestamp(), 4, number, own.index, "activity")
            if own.clear is not None and placed.rigs:
                yield Event(placed.end.timestamp(), 1, number, own.index, "clearing")
            if placed.watch is not None:
                yield Event(placed.end.timestamp(), 0, number, own.index, "watch")
    for task in tasks:
        who = (f"rig {task.rig}", *(f"person {p}" for p in task.staff.values()))
        yield Event(task.start.timestamp(), 2, -1, 0, "task", task.interval, who)
    for name, intervals in off.items():
        for interval in intervals:
            yield Event(interval.start.timestamp(), 3, -1, 0, "off", interval, (name,))


def _pause(played: Played, event: Event) -> None:
    assert event.interval is not None
    start = np.full(played.draws, event.interval.start.timestamp())
    length = event.interval.end.timestamp() - event.interval.start.timestamp()
    for name in event.who:
        start = np.maximum(start, played.free.get(name, 0.0))
    end = start + length
    if event.what == "off" and event.who[0].startswith("rig "):
        end = np.maximum(played.free.get(event.who[0], 0.0), event.interval.end.timestamp())
    for name in event.who:
        played.free[name] = end


def _serve(played: Played, role: Role, event: Event) -> None:
    """Begin and end one activity as soon as the participant, its rigs and its people are free."""
    index, visit = event.activity, event.visit
    own, placed = role.plan.activities[index], role.placed[index]
    ready = _ready(played, role, visit, own, placed)
    measured = role.draws.is_measured(index)
    start = ready
    for name in (*_rigs(placed), *_people(placed)):
        free = played.free_at(name, visit)
        wait = np.maximum(free - start, 0.0) * measured
        played.waits_s[name] = played.waits_s.get(name, 0.0) + float(wait.mean())
        start = np.maximum(start, free)
    start = np.where(measured, start, ready)
    end = start + role.draws.lengths_s[index] * measured
    played.starts[visit, index], played.ends[visit, index] = start, end
    for name in (*_rigs(placed), *_people(placed)):
        before = played.free.get(name, np.zeros(played.draws))
        played.free[name] = np.where(measured, np.maximum(before, end), before)


def _ready(played: Played, role: Role, visit: int, own: PlannedActivity, placed: Activity) -> Floats:
    """From when the participant could begin it."""
    links = [link for link in role.plan.links if link.later.activity == own.index]
    links = [link for link in links if (visit, link.earlier.activity) in played.starts]
    due = [link for link in links if link.why is Why.DUE]
    if own.index == 0:
        ready = placed.start.timestamp() + role.late_s
    elif due or _follows_due(role.plan, own):
        ready = np.zeros(played.draws)
    else:
        ready = np.full(played.draws, placed.start.timestamp())
    for link in links:
        low = _planned_gap(role, link) if link in due else link.low_s
        if low is not None:
            moment = point(played, role, visit, link.earlier)
            ready = np.maximum(ready, moment + low - _offset(role, own, link.later.moment))
    return ready


def _follows_due(plan: VisitPlan, own: PlannedActivity) -> bool:
    """Whether it is a later block of an occurrence that is due: it follows the one before at once."""
    owners = {link.later.activity for link in plan.windows}
    same = (a.index for a in plan.activities[: own.index] if (a.step, a.at_s) == (own.step, own.at_s))
    return own.manoeuvre is not None and own.at_s is not None and any(i in owners for i in same)


def _planned_gap(role: Role, link: Link) -> float:
    """The planned distance, which is never outside the window."""
    return _at(role.placed[link.later.activity], link.later.moment) - _at(
        role.placed[link.earlier.activity], link.earlier.moment
    )


def _at(placed: Activity, moment: Moment) -> float:
    at: datetime = placed.start if moment is Moment.START else placed.end
    if moment is Moment.FIRST_EFFORT and placed.first_effort is not None:
        at = placed.first_effort
    return at.timestamp()


def _offset(role: Role, own: PlannedActivity, moment: Moment) -> Floats | float:
    if moment is Moment.START:
        return 0.0
    if moment is Moment.FIRST_EFFORT:
        return float(role.draws.prepare_s[own.index])
    lengths: Floats = role.draws.lengths_s[own.index]
    return lengths


def point(played: Played, role: Role, visit: int, where: Point) -> Floats:
    """When a moment of an activity was, in every draw."""
    start = played.starts[visit, where.activity]
    if where.moment is Moment.END:
        return played.ends[visit, where.activity]
    if where.moment is Moment.FIRST_EFFORT:
        return start + role.draws.prepare_s[where.activity]
    return start


def _clear(played: Played, role: Role, event: Event) -> None:
    """Clear the rigs; people of clearing roles come as soon as they are free."""
    own, placed = role.plan.activities[event.activity], role.placed[event.activity]
    assert own.clear is not None
    end = played.ends[event.visit, event.activity]
    staff = {**placed.staff, **placed.clear_staff}
    people = [f"person {staff[name]}" for name in own.clear.staff if name in staff]
    start = end
    for name in people:
        start = np.maximum(start, played.free_at(name, event.visit))
    done = start + own.clear.takes_s * role.draws.is_measured(event.activity)
    classes = zip(own.rigs, placed.rigs, strict=True)
    rigs = [f"rig {rig}" for rig_class, rig in classes if rig_class not in own.keeps]
    for name in (*rigs, *people):
        played.free[name] = np.maximum(played.free.get(name, 0.0), done)


def _watch(played: Played, role: Role, event: Event) -> None:
    """Stay with the participant; where nobody is there at the end, that is counted."""
    own, placed = role.plan.activities[event.activity], role.placed[event.activity]
    assert placed.watch is not None
    assert own.watch is not None
    end = played.ends[event.visit, event.activity]
    alone = played.alone.get(event.visit, np.zeros(played.draws, np.bool_))
    for person in placed.watch.staff.values():
        name = f"person {person}"
        alone = alone | (played.free_at(name, event.visit) > end + A_HAIR)
        played.watching[name] = (event.visit, end + own.watch.for_s)
    played.alone[event.visit] = alone


def _rigs(placed: Activity) -> tuple[str, ...]:
    return tuple(f"rig {rig}" for rig in placed.rigs)


def _people(placed: Activity) -> tuple[str, ...]:
    return tuple(f"person {person}" for person in placed.staff.values())
