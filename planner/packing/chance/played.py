"""One packed day played many times at once: who waits for whom, in the planned order.

The rule: each rig and each person serves in the planned order. What is not due begins at its planned
time or as soon after as rigs, people and the participant are free; a due block begins at its planned
distance from the actual moment it counts from. A break is taken whole once what is planned before it
is done; a rig's outage, an absence and a shift begin and end by the clock, though what has begun is
finished first. Nobody swaps, and nobody leaves before what is planned for them is done.
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
class Lead:
    """What leads to an activity: the links to it, and whether it follows a due block of its occurrence."""

    links: tuple[Link, ...]
    follows_due: bool
    may_fall_away: bool


@dataclass(frozen=True)
class Role:
    """One visit of the day: its plan, its drawn lengths, and its activities by the plan's index."""

    visit: PlacedVisit
    plan: VisitPlan
    draws: Draws
    late_s: Floats
    placed: tuple[Activity, ...]
    leads: tuple[Lead, ...]  # by the plan's index


@dataclass(frozen=True)
class Off:
    """When nobody can have a rig or person: `breaks` are taken whole, `closed` times end by the clock.

    `opens` is when it can first be had at all.
    """

    breaks: tuple[Interval, ...] = ()
    closed: tuple[Interval, ...] = ()
    opens: datetime | None = None


@dataclass(frozen=True)
class Event:
    """What takes its turn at a planned moment; `rank` sorts what has the same moment."""

    at_s: float
    rank: int
    visit: int  # -1: a rig task, break or closed time
    activity: int
    what: str  # activity, clearing, watch, task, break, closed
    interval: Interval | None = None
    who: tuple[str, ...] = ()


@dataclass
class Played:
    """All draws of one day, in seconds since the epoch, a row of draws for each activity.

    `free` is from when each rig and person can be had, `worked` when they last did something.
    `met[visit, activity, name]` is what `free` was just before that activity began.
    """

    draws: int
    starts: dict[tuple[int, int], Floats] = field(default_factory=dict)
    ends: dict[tuple[int, int], Floats] = field(default_factory=dict)
    free: dict[str, Floats] = field(default_factory=dict)
    worked: dict[str, Floats] = field(default_factory=dict)
    inner: dict[tuple[int, int, str], Floats] = field(default_factory=dict)
    watching: dict[str, tuple[int, Floats]] = field(default_factory=dict)
    waits_s: dict[str, float] = field(default_factory=dict)
    alone: dict[int, Flags] = field(default_factory=dict)
    met: dict[tuple[int, int, str], Floats | float] = field(default_factory=dict)

    def free_at(self, who: str, visit: int) -> Floats | float:
        """From when somebody can serve that visit; whoever watches serves the one watched only."""
        free: Floats | float = self.free.get(who, 0.0)
        watched, until = self.watching.get(who, (visit, None))
        return free if watched == visit or until is None else np.maximum(free, until)

    def take(self, who: str, until: Floats | float) -> None:
        """Keeps a rig or person until then, if not longer already."""
        self.free[who] = np.maximum(self.free.get(who, np.zeros(self.draws)), until)

    def work(self, who: str, until: Floats | float) -> None:
        """Notes that a rig or person was at work until then."""
        self.worked[who] = np.maximum(self.worked.get(who, np.zeros(self.draws)), until)


def in_order(visit: PlacedVisit, plan: VisitPlan) -> tuple[Activity, ...]:
    """The placed activities by the index of the plan's; KeyError where one is missing."""
    rest: dict[tuple[str, int | None, str | None], list[Activity]] = {}
    for activity in sorted(visit.activities, key=lambda a: a.start.timestamp()):
        rest.setdefault((activity.step, activity.at_s, activity.manoeuvre), []).append(activity)
    return tuple(rest[a.step, a.at_s, a.manoeuvre].pop(0) for a in plan.activities)


def play_day(roles: Sequence[Role], tasks: Sequence[RigTask], off: Mapping[str, Off], draws: int) -> Played:
    """The day played; `off` by `rig S1` or `person K1`."""
    played = Played(draws)
    for name, one in off.items():
        if one.opens is not None:
            played.take(name, one.opens.timestamp())
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


def _events(roles: Sequence[Role], tasks: Sequence[RigTask], off: Mapping[str, Off]) -> Iterator[Event]:
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
    for name, one in off.items():
        for what, intervals in (("break", one.breaks), ("closed", one.closed)):
            for interval in intervals:
                yield Event(interval.start.timestamp(), 3, -1, 0, what, interval, (name,))


def _pause(played: Played, event: Event) -> None:
    """A task before first use or a break: whole, once all are free; closed time: to its end by the clock."""
    assert event.interval is not None
    begin, end = event.interval.start.timestamp(), event.interval.end.timestamp()
    start: Floats | float = begin
    for name in event.who:
        start = np.maximum(start, played.free_at(name, -1))
    for name in event.who:
        played.take(name, end if event.what == "closed" else start + (end - begin))
        if event.what == "task":
            played.work(name, start + (end - begin))


def _serve(played: Played, role: Role, event: Event) -> None:
    """Begin and end one activity as soon as the participant, its rigs and its people are free."""
    index, visit = event.activity, event.visit
    own, placed = role.plan.activities[index], role.placed[index]
    ready = _ready(played, role, visit, own, placed)
    measured = role.draws.is_measured(index) if role.leads[index].may_fall_away else None
    names, shared = (*_rigs(placed), *_people(placed)), _of_the_bout(role, own)
    start = ready
    for name in names:
        free = _free(played, visit, own, name, shared)
        played.met[visit, index, name] = free
        later = np.maximum(start, free)
        wait = later - start if measured is None else (later - start) * measured
        played.waits_s[name] = played.waits_s.get(name, 0.0) + float(wait.sum()) / played.draws
        start = later
    if measured is None:
        end = until = start + role.draws.lengths_s[index]
    else:
        start = np.where(measured, start, ready)
        end = start + role.draws.lengths_s[index] * measured
        until = np.where(measured, end, 0.0)
    played.starts[visit, index], played.ends[visit, index] = start, end
    for name in names:
        _occupy(played, visit, own, name, shared, until)


def _of_the_bout(role: Role, own: PlannedActivity) -> frozenset[str]:
    """The rigs and people of the bout around a block: they may serve the block as well."""
    if own.inside is None:
        return frozenset()
    bout = role.placed[own.inside]
    return frozenset((*_rigs(bout), *_people(bout)))


def _free(
    played: Played, visit: int, own: PlannedActivity, name: str, shared: frozenset[str]
) -> Floats | float:
    """From when it can be had: what serves the bout too, as soon as its last block there is done."""
    if name in shared and own.inside is not None:
        return played.inner.get((visit, own.inside, name), 0.0)
    return played.free_at(name, visit)


def _occupy(
    played: Played, visit: int, own: PlannedActivity, name: str, shared: frozenset[str], until: Floats
) -> None:
    if name in shared and own.inside is not None:
        before = played.inner.get((visit, own.inside, name), 0.0)
        played.inner[visit, own.inside, name] = np.maximum(before, until)
    played.take(name, until)
    played.work(name, until)


def _ready(played: Played, role: Role, visit: int, own: PlannedActivity, placed: Activity) -> Floats:
    """From when the participant could begin it."""
    lead = role.leads[own.index]
    links = [link for link in lead.links if (visit, link.earlier.activity) in played.starts]
    due = [link for link in links if link.why is Why.DUE]
    if own.index == 0:
        ready = placed.start.timestamp() + role.late_s
    elif due or lead.follows_due:
        ready = np.zeros(played.draws)
    else:
        ready = np.full(played.draws, placed.start.timestamp())
    for link in links:
        low = planned_gap(role, link) if link in due else link.low_s
        if low is not None:
            moment = point(played, role, visit, link.earlier)
            ready = np.maximum(ready, moment + low - _offset(role, own, link.later.moment))
    return ready


def leads_of(plan: VisitPlan, draws: Draws) -> tuple[Lead, ...]:
    """What leads to each activity of a plan, by its index."""
    return tuple(
        Lead(
            tuple(link for link in plan.links if link.later.activity == own.index),
            _follows_due(plan, own),
            draws.outline.spots[own.index].falls_away,
        )
        for own in plan.activities
    )


def _follows_due(plan: VisitPlan, own: PlannedActivity) -> bool:
    """Whether it is a later block of an occurrence that is due: it follows the one before at once."""
    owners = {link.later.activity for link in plan.windows}
    same = (a.index for a in plan.activities[: own.index] if (a.step, a.at_s) == (own.step, own.at_s))
    return own.manoeuvre is not None and own.at_s is not None and any(i in owners for i in same)


def planned_gap(role: Role, link: Link) -> float:
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


def kept(played: Played, role: Role, number: int, link: Link) -> Flags:
    """In which draws the distance of a window is kept, both ends included."""
    gap = point(played, role, number, link.later) - point(played, role, number, link.earlier)
    low = -np.inf if link.low_s is None else link.low_s
    high = np.inf if link.high_s is None else link.high_s
    found: Flags = (gap >= low - A_HAIR) & (gap <= high + A_HAIR)
    return found


def keeps_all(played: Played, role: Role, number: int) -> Flags:
    """In which draws a visit keeps all windows that it reaches."""
    found = np.ones(played.draws, np.bool_)
    for row, link in enumerate(role.plan.windows):
        found &= kept(played, role, number, link) | ~role.draws.reached[row]
    return found


def _clear(played: Played, role: Role, event: Event) -> None:
    """Clear the rigs; people of clearing roles come as soon as they are free."""
    own, placed = role.plan.activities[event.activity], role.placed[event.activity]
    assert own.clear is not None
    start = played.ends[event.visit, event.activity]
    staff = {**placed.staff, **placed.clear_staff}
    people = [f"person {staff[name]}" for name in own.clear.staff if name in staff]
    shared = _of_the_bout(role, own)
    for name in people:
        start = np.maximum(start, _free(played, event.visit, own, name, shared))
    measured = role.draws.is_measured(event.activity)
    done = np.where(measured, start + own.clear.takes_s, 0.0)
    classes = zip(own.rigs, placed.rigs, strict=True)
    rigs = [f"rig {rig}" for rig_class, rig in classes if rig_class not in own.keeps]
    for name in (*rigs, *people):
        _occupy(played, event.visit, own, name, shared, done)


def _watch(played: Played, role: Role, event: Event) -> None:
    """Stay with the participant; where nobody is there at the end, that is counted."""
    own, placed = role.plan.activities[event.activity], role.placed[event.activity]
    assert placed.watch is not None
    assert own.watch is not None
    end = played.ends[event.visit, event.activity]
    alone = played.alone.get(event.visit, np.zeros(played.draws, np.bool_))
    for person in placed.watch.staff.values():
        name = f"person {person}"
        free = played.free_at(name, event.visit)
        alone = alone | (free > end + A_HAIR)
        played.watching[name] = (event.visit, end + own.watch.for_s)
        played.work(name, end + own.watch.for_s)
    played.alone[event.visit] = alone


def _rigs(placed: Activity) -> tuple[str, ...]:
    return tuple(f"rig {rig}" for rig in placed.rigs)


def _people(placed: Activity) -> tuple[str, ...]:
    return tuple(f"person {person}" for person in placed.staff.values())
