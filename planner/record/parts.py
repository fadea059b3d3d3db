"""Each part of a visit as it stands now: what has begun, what is over, what may go on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from planner.clock import later
from planner.protocol.agreement import BlockState, state
from planner.protocol.model import Manoeuvre, Protocol
from planner.quantity import Quantity
from planner.record.due import Due, due_of
from planner.record.happenings import EffortNow, Happenings
from planner.schedule.model import Activity, PlacedVisit
from planner.timing.plan import Kind, PlannedActivity, VisitPlan


class Status(StrEnum):
    """Where a part of the visit stands, in the words of the page."""

    TO_COME = "to come"
    NOW = "now"
    DONE = "done"
    PASSED = "passed over"  # something later began before it was finished


@dataclass(frozen=True, slots=True)
class Part:
    """One task, bout, block or rest of the visit as it stands now.

    `planned` is its place in the plan in force, if it has one. `agreement` is for blocks; its words
    are for the page. `may_start_effort`: a further effort may be offered; never beyond `at_most`.
    """

    index: int
    activity: PlannedActivity
    title: str
    status: Status
    started: datetime | None
    ended: datetime | None
    due: Due | None
    planned: Activity | None
    efforts: tuple[EffortNow, ...] = ()
    agreement: BlockState | None = None
    in_hand: int | None = None  # number of the effort that has started and is not done
    may_start_effort: bool = False
    next_effort: int = 1
    rest_ends: datetime | None = None
    stop_and_ask: tuple[str, ...] = ()
    rig: str | None = None  # the device that it was last recorded on

    @property
    def is_block(self) -> bool:
        """Whether it is a manoeuvre's efforts."""
        return self.activity.kind is Kind.BLOCK


@dataclass(frozen=True, slots=True)
class _Scene:
    """What all parts of one visit are judged by; `last` is the index of the last part that has begun."""

    plan: VisitPlan
    placed: PlacedVisit | None
    happened: Happenings
    now: datetime
    last: int
    starts: Mapping[int, datetime | None]
    ends: Mapping[int, datetime | None]

    def due(self, activity: PlannedActivity) -> Due | None:
        """Its window, counted from what is recorded."""
        return due_of(self.plan, activity, self.starts, self.ends)

    def place(self, activity: PlannedActivity) -> Activity | None:
        """Its place in the plan in force."""
        if self.placed is None:
            return None
        same = (activity.step, activity.at_s, activity.manoeuvre)
        return next(
            (one for one in self.placed.activities if (one.step, one.at_s, one.manoeuvre) == same), None
        )

    def is_passed(self, activity: PlannedActivity) -> bool:
        """Whether something later has begun, or the bout around it is over."""
        inside = [one.index for one in self.plan.activities if one.inside == activity.index]
        bout_over = activity.inside is not None and self.ends[activity.inside] is not None
        return bout_over or self.last > max([activity.index, *inside])


def parts_of(
    plan: VisitPlan, placed: PlacedVisit | None, happened: Happenings, now: datetime
) -> tuple[Part, ...]:
    """The parts of the visit in the order of its plan, as they stand at that moment."""
    begun = [happened.begun(activity) for activity in plan.activities]
    last = max((index for index, at in enumerate(begun) if at), default=-1)
    starts = {a.index: happened.started(a) for a in plan.activities}
    ends = {a.index: happened.ended(plan, a) for a in plan.activities}
    scene = _Scene(plan, placed, happened, now, last, starts, ends)
    makers = {Kind.BLOCK: _block, Kind.REST: _rest}
    return tuple(makers.get(activity.kind, _stretch)(scene, activity) for activity in plan.activities)


def _rest(scene: _Scene, activity: PlannedActivity) -> Part:
    """A rest is not recorded: it begins with the end of what stands before it."""
    begin = scene.starts[activity.index] or scene.ends.get(activity.index - 1)
    end = scene.ends[activity.index] or (later(begin, activity.length_s) if begin else None)
    is_over = end is not None and end.timestamp() <= scene.now.timestamp()
    status = _status(begin is not None, is_over or scene.last > activity.index, False)
    title = _title(scene.plan.protocol, activity)
    return Part(
        activity.index, activity, title, status, begin, end, scene.due(activity), scene.place(activity)
    )


def _stretch(scene: _Scene, activity: PlannedActivity) -> Part:
    """A task or bout, known by its marks."""
    begin, end = scene.starts[activity.index], scene.ends[activity.index]
    status = _status(begin is not None, end is not None, scene.is_passed(activity))
    title = _title(scene.plan.protocol, activity)
    rig = scene.happened.mark_rigs.get((activity.step, activity.at_s))
    return Part(
        activity.index,
        activity,
        title,
        status,
        begin,
        end,
        scene.due(activity),
        scene.place(activity),
        rig=rig,
    )


def _status(begun: bool, over: bool, passed: bool) -> Status:
    if over:
        return Status.DONE
    if passed:
        return Status.PASSED
    return Status.NOW if begun else Status.TO_COME


def _block(scene: _Scene, activity: PlannedActivity) -> Part:
    assert activity.manoeuvre is not None
    manoeuvre = scene.plan.protocol.manoeuvres[activity.manoeuvre]
    efforts = scene.happened.efforts_of(activity)
    in_hand = efforts[-1].number if efforts and efforts[-1].is_under_way else None
    judged = state(manoeuvre, [one.acceptable() for one in efforts if not one.is_under_way])
    status = _status(bool(efforts), bool(efforts) and not judged.may_go_on, scene.is_passed(activity))
    next_effort = max((one.number for one in efforts), default=0) + 1
    may_go_on = judged.may_go_on and next_effort <= manoeuvre.at_most and scene.happened.stopped is None
    ended = efforts[-1].ended(manoeuvre) if efforts and in_hand is None else None
    resting = ended is not None and may_go_on and status is Status.NOW
    return Part(
        activity.index,
        activity,
        _title(scene.plan.protocol, activity),
        status,
        efforts[0].started if efforts else None,
        ended if status in (Status.DONE, Status.PASSED) else None,
        scene.due(activity),
        scene.place(activity),
        efforts,
        judged,
        in_hand,
        may_go_on and in_hand is None,
        next_effort,
        later(ended, manoeuvre.rest_s) if ended and resting else None,
        _stop_and_ask(manoeuvre, efforts, scene.happened.first_values(activity.manoeuvre)),
        next((one.rig for one in reversed(efforts) if one.rig), None),
    )


def _title(protocol: Protocol, activity: PlannedActivity) -> str:
    if activity.manoeuvre is not None:
        return protocol.manoeuvres[activity.manoeuvre].title
    return protocol.step(activity.step).title


def _stop_and_ask(
    manoeuvre: Manoeuvre, efforts: Sequence[EffortNow], first: Mapping[str, Decimal]
) -> tuple[str, ...]:
    """The lines of `stop_if` that the last effort meets: shown as a reason to ask, never decided here."""
    if not efforts:
        return ()
    last = efforts[-1].acceptable()
    return tuple(
        f"{line.reading} is {last[line.reading]} {manoeuvre.readings[line.reading].unit}, below "
        f"{line.falls_below} of the first. Stop. Ask the responsible person."
        for line in manoeuvre.stop_if
        if line.reading in last
        and line.reading in first
        and _is_below(line.falls_below, last, first, line.reading)
    )


def _is_below(
    limit: Quantity, last: Mapping[str, Decimal], first: Mapping[str, Decimal], reading: str
) -> bool:
    now, was = abs(last[reading]), abs(first[reading])
    return bool(now < (was * limit.value / 100 if limit.is_percent else was - limit.value))
