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

    @property
    def is_block(self) -> bool:
        """Whether it is a manoeuvre's efforts."""
        return self.activity.kind is Kind.BLOCK


def parts_of(
    plan: VisitPlan, placed: PlacedVisit | None, happened: Happenings, now: datetime
) -> tuple[Part, ...]:
    begun = [happened.begun(activity) for activity in plan.activities]
    last = max((index for index, at in enumerate(begun) if at), default=-1)
    ends = {a.index: happened.ended(plan, a, last) for a in plan.activities}
    starts = {a.index: happened.started(plan, a) for a in plan.activities}
    made = []
    for activity in plan.activities:
        due = due_of(plan, activity, starts, ends)
        planned = _placed(placed, activity)
        if activity.kind is Kind.BLOCK:
            made.append(_block(plan.protocol, activity, happened, due, planned, last, now))
        else:
            made.append(_stretch(plan, activity, happened, due, planned, last, now, ends))
    return tuple(made)


def _placed(placed: PlacedVisit | None, activity: PlannedActivity) -> Activity | None:
    if placed is None:
        return None
    same = (activity.step, activity.at_s, activity.manoeuvre)
    return next((one for one in placed.activities if (one.step, one.at_s, one.manoeuvre) == same), None)


def _stretch(
    plan: VisitPlan,
    activity: PlannedActivity,
    happened: Happenings,
    due: Due | None,
    planned: Activity | None,
    last: int,
    now: datetime,
    ends: Mapping[int, datetime | None],
) -> Part:
    """A task, bout or rest: known by its marks; a rest begins with the end of what stands before it."""
    started, ended = happened.started(plan, activity), ends[activity.index]
    if activity.kind is Kind.REST:
        before = ends.get(activity.index - 1)
        started = before
        ended = later(before, activity.length_s) if before else None
        is_over = last > activity.index or (ended is not None and ended.timestamp() <= now.timestamp())
        status = Status.DONE if is_over else Status.NOW if started else Status.TO_COME
        return Part(
            activity.index, activity, _title(plan.protocol, activity), status, started, ended, due, planned
        )
    status = _status(started is not None, ended is not None, last > _last_inside(plan, activity))
    return Part(
        activity.index, activity, _title(plan.protocol, activity), status, started, ended, due, planned
    )


def _last_inside(plan: VisitPlan, activity: PlannedActivity) -> int:
    """The index of the last block inside that bout, or its own."""
    return max([activity.index, *(a.index for a in plan.activities if a.inside == activity.index)])


def _status(begun: bool, over: bool, later_began: bool) -> Status:
    if over:
        return Status.DONE
    if later_began:
        return Status.PASSED
    return Status.NOW if begun else Status.TO_COME


def _block(
    protocol: Protocol,
    activity: PlannedActivity,
    happened: Happenings,
    due: Due | None,
    planned: Activity | None,
    last: int,
    now: datetime,
) -> Part:
    assert activity.manoeuvre is not None
    manoeuvre = protocol.manoeuvres[activity.manoeuvre]
    efforts = happened.efforts_of(activity)
    in_hand = efforts[-1].number if efforts and efforts[-1].is_under_way else None
    judged = state(manoeuvre, [one.acceptable() for one in efforts if not one.is_under_way])
    status = _status(bool(efforts), bool(efforts) and not judged.may_go_on, last > activity.index)
    next_effort = max((one.number for one in efforts), default=0) + 1
    may_start = (
        in_hand is None and judged.may_go_on and next_effort <= manoeuvre.at_most and happened.stopped is None
    )
    ended = efforts[-1].ended(manoeuvre) if efforts and in_hand is None else None
    return Part(
        activity.index,
        activity,
        _title(protocol, activity),
        status,
        efforts[0].started if efforts else None,
        ended if status in (Status.DONE, Status.PASSED) else None,
        due,
        planned,
        efforts,
        judged,
        in_hand,
        may_start,
        next_effort,
        later(ended, manoeuvre.rest_s) if ended and may_start and status is Status.NOW else None,
        _stop_and_ask(manoeuvre, efforts, happened.first_values(activity.manoeuvre)),
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
