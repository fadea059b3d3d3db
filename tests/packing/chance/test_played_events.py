"""The played day against an independent run of it, event by event, in SimPy (a discrete-event library).

Both are given the same drawn lengths and arrivals; every activity must begin at the same second. Here
each activity, clearing, watch, break, closed time and first task is a process of its own that waits for its
turn on every rig and person; in `played` all draws go through one sorted list.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest
import simpy

from planner.packing.chance.played import Role
from planner.packing.day import pack_day
from planner.packing.play import Cast, times_off
from planner.packing.problem import DayProblem, DayResult
from planner.timing.plan import Link, Moment, Point, Why

Process = Generator[simpy.Event, object, None]
CHANGES = {
    "efforts: 3\n    clear: {takes: 2 min": "efforts: {at_least: 2, at_most: 5}\n"
    "    enough: [{reading: V, largest: 2, within: 3 %}]\n"
    "    readings: {V: {unit: L, typical: 4 L, spread: 4 %}}\n    clear: {takes: 2 min",
}


@dataclass
class Turn:
    """One stretch of a rig or person: whose it is, and the event that ends it."""

    order: tuple[float, int, int, int]
    visit: int
    over: simpy.Event
    inside: int | None = None  # of a block served by what serves this bout too
    is_watch: bool = False
    is_bout: int | None = None


@dataclass
class Floor:
    """One draw of one day, run by events."""

    roles: Sequence[Role]
    draw: int
    env: simpy.Environment = field(default_factory=lambda: simpy.Environment(initial_time=0.0))
    turns: dict[str, list[Turn]] = field(default_factory=lambda: defaultdict(list))
    moments: dict[tuple[int, int, Moment], simpy.Event] = field(default_factory=dict)
    times: dict[tuple[int, int, Moment], float] = field(default_factory=dict)

    def run(self, problem: DayProblem, result: DayResult) -> Mapping[tuple[int, int], float]:
        """The start of every activity."""
        jobs: list[Process] = []
        for n, role in enumerate(self.roles):
            for own in role.plan.activities:
                for moment in Moment:
                    self.moments[n, own.index, moment] = self.env.event()
        for n, role in enumerate(self.roles):
            for own in role.plan.activities:
                jobs += self.activity(n, own.index)
        for task in result.rig_tasks:
            names = [f"rig {task.rig}", *(f"person {p}" for p in task.staff.values())]
            jobs.append(self.pause(names, task.start.timestamp(), task.end.timestamp(), 2, whole=True))
        for name, off in times_off(problem.study, problem.day).items():
            if off.opens:
                jobs.append(self.pause([name], 0.0, off.opens.timestamp(), -1, whole=False))
            for one in off.breaks:
                jobs.append(self.pause([name], one.start.timestamp(), one.end.timestamp(), 3, whole=True))
            for one in off.closed:
                jobs.append(self.pause([name], one.start.timestamp(), one.end.timestamp(), 3, whole=False))
        for job in jobs:
            self.env.process(job)
        self.env.run()
        return {(n, i): at for (n, i, m), at in self.times.items() if m is Moment.START}

    def turn(self, name: str, turn: Turn) -> None:
        self.turns[name].append(turn)

    def before(self, name: str, mine: Turn) -> list[simpy.Event]:
        """What must be over before this turn on that rig or person."""
        found = []
        for other in self.turns[name]:
            if other is mine or other.order >= mine.order:
                continue
            if mine.inside is not None and other.visit == mine.visit:
                if other.is_bout == mine.inside or other.inside != mine.inside:
                    continue
            elif mine.inside is not None:
                continue
            if other.is_watch and other.visit == mine.visit:
                continue
            found.append(other.over)
        return found

    def pause(self, names: list[str], start: float, end: float, rank: int, *, whole: bool) -> Process:
        over = self.env.event()
        mine = {name: Turn((start, rank, -1, 0), -1, over) for name in names}
        for name, turn in mine.items():
            self.turn(name, turn)

        def process() -> Process:
            yield self.until(start)
            for name, turn in mine.items():
                yield from self.before(name, turn)
            yield self.env.timeout(end - start) if whole else self.until(end)
            over.succeed()

        return process()

    def until(self, moment: float) -> simpy.Event:
        return self.env.timeout(max(0.0, moment - self.env.now))

    def activity(self, n: int, i: int) -> list[Process]:
        role = self.roles[n]
        own, placed = role.plan.activities[i], role.placed[i]
        names = [*(f"rig {r}" for r in placed.rigs), *(f"person {p}" for p in placed.staff.values())]
        around = role.placed[own.inside] if own.inside is not None else None
        bout = [] if around is None else [f"rig {r}" for r in around.rigs]
        bout += [] if around is None else [f"person {p}" for p in around.staff.values()]
        done = self.env.event()
        order = (placed.start.timestamp(), 4, n, i)
        is_bout = i if any(a.inside == i for a in role.plan.activities) else None
        mine = {m: Turn(order, n, done, own.inside if m in bout else None, is_bout=is_bout) for m in names}
        for name, turn in mine.items():
            self.turn(name, turn)
        jobs = [self.serve(n, i, mine, done)]
        if own.clear and placed.rigs:
            jobs.append(self.clear(n, i, bout))
        if placed.watch:
            jobs.append(self.watch(n, i))
        return jobs

    def serve(self, n: int, i: int, mine: Mapping[str, Turn], done: simpy.Event) -> Process:
        role = self.roles[n]
        own = role.plan.activities[i]
        here = bool(role.draws.is_measured(i)[self.draw])
        ready = 0.0
        links = [link for link in role.plan.links if link.later.activity == i and _is_before(role, link)]
        follows = any(w.later.activity < i and _same(role, w.later.activity, i) for w in role.plan.windows)
        if i == 0:
            ready = role.placed[0].start.timestamp() + float(role.late_s[self.draw])
        elif not any(link.why is Why.DUE for link in links) and not follows:
            ready = role.placed[i].start.timestamp()
        for link in links:
            yield self.moments[n, link.earlier.activity, link.earlier.moment]
            gap = self.planned(role, link) if link.why is Why.DUE else link.low_s
            if gap is not None:
                at = self.times[n, link.earlier.activity, link.earlier.moment]
                ready = max(ready, at + gap - self.offset(role, link.later))
        yield self.until(ready)
        if here:
            for name, turn in mine.items():
                yield from self.before(name, turn)
        self.happens(n, i, Moment.START)
        length = float(role.draws.lengths_s[i][self.draw]) if here else 0.0
        self.env.process(self.later(n, i, Moment.FIRST_EFFORT, role.draws.prepare_s[i]))
        yield self.env.timeout(length)
        self.happens(n, i, Moment.END)
        done.succeed()
        assert own.index == i

    def later(self, n: int, i: int, moment: Moment, seconds: float) -> Process:
        yield self.env.timeout(seconds)
        self.happens(n, i, moment)

    def happens(self, n: int, i: int, moment: Moment) -> None:
        self.times[n, i, moment] = self.env.now
        self.moments[n, i, moment].succeed()

    def clear(self, n: int, i: int, bout: list[str]) -> Process:
        role = self.roles[n]
        own, placed = role.plan.activities[i], role.placed[i]
        assert own.clear is not None
        staff = {**placed.staff, **placed.clear_staff}
        people = [f"person {staff[r]}" for r in own.clear.staff if r in staff]
        kept = zip(own.rigs, placed.rigs, strict=True)
        names = [*(f"rig {rig}" for c, rig in kept if c not in own.keeps), *people]
        over = self.env.event()
        order = (placed.end.timestamp(), 1, n, i)
        mine = {m: Turn(order, n, over, own.inside if m in bout else None) for m in names}
        for name, turn in mine.items():
            self.turn(name, turn)

        def process() -> Process:
            yield self.moments[n, i, Moment.END]
            for person in people:
                yield from self.before(person, mine[person])
            yield self.env.timeout(own.clear.takes_s if role.draws.is_measured(i)[self.draw] else 0)
            over.succeed()

        return process()

    def watch(self, n: int, i: int) -> Process:
        role = self.roles[n]
        own, placed = role.plan.activities[i], role.placed[i]
        assert own.watch is not None
        assert placed.watch is not None
        over = self.env.event()
        for person in placed.watch.staff.values():
            turn = Turn((placed.end.timestamp(), 0, n, i), n, over, is_watch=True)
            self.turn(f"person {person}", turn)

        def process() -> Process:
            yield self.moments[n, i, Moment.END]
            yield self.env.timeout(own.watch.for_s)
            over.succeed()

        return process()

    def planned(self, role: Role, link: Link) -> float:
        def at(point: Point) -> float:
            placed = role.placed[point.activity]
            if point.moment is Moment.END:
                return placed.end.timestamp()
            first = placed.first_effort or placed.start
            return (first if point.moment is Moment.FIRST_EFFORT else placed.start).timestamp()

        return at(link.later) - at(link.earlier)

    def offset(self, role: Role, point: Point) -> float:
        if point.moment is Moment.START:
            return 0.0
        if point.moment is Moment.FIRST_EFFORT:
            return role.draws.prepare_s[point.activity]
        return float(role.draws.lengths_s[point.activity][self.draw])


def _is_before(role: Role, link: Link) -> bool:
    """Whether the earlier moment's activity is planned to begin first."""
    one, other = role.placed[link.earlier.activity], role.placed[link.later.activity]
    return (one.start, link.earlier.activity) < (other.start, link.later.activity)


def _same(role: Role, one: int, other: int) -> bool:
    a, b = role.plan.activities[one], role.plan.activities[other]
    return (a.step, a.at_s) == (b.step, b.at_s) and b.manoeuvre is not None and b.at_s is not None


@pytest.mark.parametrize("late_sd_s", [0, 300])
@pytest.mark.parametrize("seed", [1, 2])
def test_every_activity_begins_at_the_same_second(
    rich_day: Callable[..., DayProblem], seed: int, late_sd_s: int
) -> None:
    problem = rich_day(4, CHANGES)
    result = pack_day(problem, seconds=4, stages=("placed",), seed=seed, workers=1)
    assert len(result.visits) >= 3
    cast = Cast(problem.study, problem.plans, 30, seed, late_sd_s)
    played = cast.play(result.visits, result.rig_tasks, problem.day)
    roles = cast.roles(result.visits)
    assert any(np.ptp(role.draws.lengths_s, axis=1).max() > 0 for role in roles)
    for draw in range(30):
        by_events = Floor(roles, draw).run(problem, result)
        for name, start in by_events.items():
            assert played.starts[name][draw] == pytest.approx(start, abs=1e-3), (draw, name)
