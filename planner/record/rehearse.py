"""The planned visits played with random people: made-up efforts, each marked as such."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from planner.clock import later, seconds_between
from planner.protocol.agreement import ended_after
from planner.protocol.model import Due, Manoeuvre, Protocol, Step
from planner.record.effort import VisitKey
from planner.record.lines import REHEARSED, Line
from planner.schedule.model import Activity, PlacedVisit, Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan

_DIGITS = Decimal("0.000001")


def rehearse(
    study: Study,
    schedule: Schedule,
    plans: Mapping[str, VisitPlan],
    *,
    seed: int,
    until: date | None = None,
    dawdle_s: float = 0.0,
) -> tuple[Line, ...]:
    """The lines that the planned visits (those up to a date) might leave; the same seed, the same lines.

    People behave as the simulation has it: levels at `typical`, each reading drawn alone, bouts from
    their triangle, due steps at their planned distance from the real end of exercise, or as soon after
    as the blocks before them allow. `dawdle_s`: mean seconds that each start comes late besides.
    """
    visits = [visit for visit in schedule.visits if until is None or visit.date <= until]
    lines = [line for visit in visits for line in _play(study, visit, plans, seed, dawdle_s)]
    return tuple(sorted(lines, key=lambda line: line.started.timestamp()))


def _play(
    study: Study, visit: PlacedVisit, plans: Mapping[str, VisitPlan], seed: int, dawdle_s: float
) -> Iterator[Line]:
    asked = {(one.kind, one.number): one for one in study.asked[visit.participant]}
    protocol = plans[asked[(visit.visit, visit.number)].protocol].protocol
    draw = random.Random(f"{seed}/{visit.participant}/{visit.file_id}")
    return _Played(protocol, visit, draw, dawdle_s).lines()


@dataclass(slots=True)
class _Played:
    """One visit as it goes; `ready` is when the participant is free, `began` and `ended` are by step."""

    protocol: Protocol
    visit: PlacedVisit
    draw: random.Random
    dawdle_s: float
    ready: datetime = field(init=False)
    began: dict[str, datetime] = field(default_factory=dict)
    ended: dict[str, datetime] = field(default_factory=dict)
    bout_ends: datetime | None = None

    def lines(self) -> Iterator[Line]:
        """All lines of the visit, those inside a bout before its end."""
        self.ready = self.visit.start
        inside = {id(one) for bout in self.visit.activities for one in self._inside(bout)}
        for activity in self.visit.activities:
            if id(activity) not in inside:
                yield from self._activity(activity)

    def _inside(self, bout: Activity) -> list[Activity]:
        """Blocks of the bout's `during`."""
        if bout.manoeuvre is not None:
            return []
        return [one for one in self.visit.activities if one.step == bout.step and one.manoeuvre is not None]

    def _activity(self, activity: Activity) -> Iterator[Line]:
        step = self.protocol.step(activity.step)
        if activity.manoeuvre is not None:
            yield from self._block(step, activity, self._first_effort(step, activity))
            return
        start = self._start(step, activity)
        end = later(start, self._length_s(step))
        self.began[step.id], self.bout_ends = start, end
        if self._is_marked(step):
            yield self._mark(activity, "start", start)
        self.ready = start
        for block in self._inside(activity):
            yield from self._during(step, activity, block, end)
        self.bout_ends = None
        self.ready = self.ended[step.id] = end
        if self._is_marked(step):
            yield self._mark(activity, "end", end)

    def _is_marked(self, step: Step) -> bool:
        """Whether start and end are written down: of a rest only where a time point hangs on it."""
        anchors = {other.due.anchor for other in self.protocol.visit if other.due}
        return step.rest_s is None or step.due is not None or step.id in anchors

    def _dawdle(self) -> int:
        return round(self.draw.expovariate(1 / self.dawdle_s)) if self.dawdle_s > 0 else 0

    def _length_s(self, step: Step) -> int:
        if step.rest_s is not None:
            return step.rest_s
        assert step.takes is not None
        takes = step.takes
        return round(self.draw.triangular(takes.shortest_s, takes.longest_s, takes.about_s))

    def _start(self, step: Step, activity: Activity) -> datetime:
        planned = self._counted(step, activity.start, activity.start)
        return later(_latest(planned, self.ready), self._dawdle())

    def _first_effort(self, step: Step, activity: Activity) -> datetime:
        assert activity.first_effort is not None
        assert activity.manoeuvre is not None
        prepare_s = self.protocol.manoeuvres[activity.manoeuvre].prepare_s
        at_once = later(self.ready, prepare_s)
        if step.due and step.due.side == "after" and activity.manoeuvre != step.measure[0]:
            return later(at_once, self._dawdle())  # the blocks that follow the first of a time point
        planned = self._counted(step, activity.first_effort, activity.first_effort)
        return later(_latest(planned, at_once), self._dawdle())

    def _counted(self, step: Step, planned: datetime, otherwise: datetime) -> datetime:
        """The planned moment, moved with the real end of what it is due after."""
        due = step.due
        anchor = self._anchor(due) if due and due.side == "after" else None
        if due is None or anchor is None:
            return otherwise
        planned_anchor = self._planned(due)
        return later(anchor, seconds_between(planned_anchor, planned)) if planned_anchor else otherwise

    def _anchor(self, due: Due) -> datetime | None:
        return (self.ended if due.anchored == "end" else self.began).get(due.anchor)

    def _planned(self, due: Due) -> datetime | None:
        own = [one for one in self.visit.activities if one.step == due.anchor]
        bare = [one for one in own if one.manoeuvre is None] or own
        if not bare:
            return None
        return bare[-1].end if due.anchored == "end" else bare[0].start

    def _during(self, step: Step, bout: Activity, block: Activity, end: datetime) -> Iterator[Line]:
        """A block inside the bout, left out where the bout does not last for it."""
        assert block.manoeuvre is not None
        assert block.first_effort is not None
        manoeuvre = self.protocol.manoeuvres[block.manoeuvre]
        first = later(self.began[step.id], seconds_between(bout.start, block.first_effort))
        first = _latest(first, later(self.ready, manoeuvre.prepare_s))
        shortest_s = manoeuvre.length_s(manoeuvre.at_least) - manoeuvre.prepare_s
        if seconds_between(first, end) >= shortest_s:
            yield from self._block(step, block, first)

    def _block(self, step: Step, activity: Activity, first: datetime) -> Iterator[Line]:
        assert activity.manoeuvre is not None
        manoeuvre = self.protocol.manoeuvres[activity.manoeuvre]
        done: list[Mapping[str, Decimal]] = []
        started = first
        self.began.setdefault(step.id, later(first, -manoeuvre.prepare_s))
        for number in range(1, manoeuvre.at_most + 1):
            end = later(started, manoeuvre.effort_s)
            if self.bout_ends and number > manoeuvre.at_least and seconds_between(end, self.bout_ends) < 0:
                break
            yield from self._effort(activity, manoeuvre, number, started, done)
            self.ready = self.ended[step.id] = end
            if self._is_over(manoeuvre, done, number):
                break
            started = later(end, manoeuvre.rest_s + self._dawdle() // 4)

    def _is_over(self, manoeuvre: Manoeuvre, done: list[Mapping[str, Decimal]], number: int) -> bool:
        if not manoeuvre.enough:
            return number >= manoeuvre.at_least
        return ended_after(manoeuvre, done) is not None

    def _effort(
        self,
        activity: Activity,
        manoeuvre: Manoeuvre,
        number: int,
        started: datetime,
        done: list[Mapping[str, Decimal]],
    ) -> Iterator[Line]:
        accepted = manoeuvre.acceptable >= 1 or self.draw.random() < manoeuvre.acceptable
        values = {name: self._value(manoeuvre, name, number) for name in manoeuvre.readings}
        drawn = {name: value for name, value in values.items() if value is not None}
        done.append(drawn if accepted else {})
        if not drawn:
            yield self._line(activity, manoeuvre.id, number, started)
        for name, value in drawn.items():
            yield self._line(
                activity, manoeuvre.id, number, started, name, value, manoeuvre.readings[name].unit, accepted
            )

    def _value(self, manoeuvre: Manoeuvre, name: str, number: int) -> Decimal | None:
        reading = manoeuvre.readings[name]
        if reading.typical is None or reading.spread is None:
            return None
        mean = float(reading.typical.value)
        spread = float(reading.spread.value)
        spread_sd = abs(mean) * spread / 100 if reading.spread.is_percent else spread
        if learning := manoeuvre.learning:
            mean *= 1 - learning.gain * max(0.0, 1 - (number - 1) / learning.over)
        return Decimal(self.draw.gauss(mean, spread_sd)).quantize(_DIGITS)

    def _line(
        self,
        activity: Activity,
        manoeuvre: str | None,
        effort: int | None,
        started: datetime,
        reading: str = "",
        value: Decimal | None = None,
        unit: str = "",
        acceptable: bool = True,
    ) -> Line:
        key = VisitKey(self.visit.participant, self.visit.visit, self.visit.number)
        return Line(
            key,
            activity.step,
            activity.at_s,
            manoeuvre,
            effort,
            reading,
            started,
            value,
            unit,
            acceptable,
            REHEARSED,
            rig=";".join(activity.rigs) or None,
        )

    def _mark(self, activity: Activity, what: str, at: datetime) -> Line:
        return self._line(activity, None, None, at, what)


def _latest(one: datetime, other: datetime) -> datetime:
    return one if one.timestamp() >= other.timestamp() else other
