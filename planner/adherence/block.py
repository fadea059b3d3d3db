"""The efforts of one block against its plan: off the clock, rests, what is missing, what is too much."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo
from typing import NamedTuple

from planner.adherence.asked import BlockAsked, Label
from planner.adherence.model import EffortLine, Fate, RestLine
from planner.adherence.recorded import Timed, at, local
from planner.protocol.model import Manoeuvre
from planner.record.effort import Effort, VisitKey
from planner.schedule.model import Activity


class Whose(NamedTuple):
    """What every row of one visit carries."""

    key: VisitKey
    condition: str | None
    zone: tzinfo
    stopped: bool


def first_effort(activity: Activity | None) -> float | None:
    """Seconds of the epoch of a block's first planned effort; None where none is planned."""
    if activity is None or activity.first_effort is None:
        return None
    return activity.first_effort.timestamp()


def planned_moment(
    first: float | None, activity: Activity | None, manoeuvre: Manoeuvre, number: int
) -> float | None:
    """Seconds of the epoch at which effort `number` is planned; None where the plan has no such effort."""
    if first is None or activity is None or number > (activity.planned_efforts or 0):
        return None
    return first + (number - 1) * (manoeuvre.effort_s + manoeuvre.rest_s)


def effort_lines(
    whose: Whose, block: BlockAsked, activity: Activity | None, efforts: Sequence[Timed]
) -> tuple[list[EffortLine], list[RestLine]]:
    """The recorded efforts in order of time and the missing ones after them; and the rests between."""
    lines: list[EffortLine] = []
    rests: list[RestLine] = []
    label, manoeuvre = block.label, block.manoeuvre
    ended: float | None = None
    seen: set[int] = set()
    first = first_effort(activity)
    for began, effort in efforts:
        number = effort.number
        rest_s = None if ended is None else round(began - ended)
        due = planned_moment(first, activity, manoeuvre, number)
        extra = number > manoeuvre.at_most or number in seen
        lines.append(
            EffortLine(
                whose.key,
                whose.condition,
                label.step,
                label.at_s,
                label.manoeuvre,
                number,
                None if due is None else at(due, whose.zone),
                local(effort.started, whose.zone),
                None if due is None else round(began - due),
                rest_s,
                Fate.EXTRA if extra else Fate.MATCHED,
            )
        )
        seen.add(number)
        if rest_s is not None:
            rests.append(RestLine(whose.key, *label, number, rest_s, manoeuvre.rest_s))
        ended = began + manoeuvre.effort_s
    if not whose.stopped:
        lines += _missing(whose, block, activity, [timed.effort for timed in efforts], seen)
    return lines, rests


def unknown_lines(whose: Whose, label: Label, efforts: Sequence[Timed]) -> list[EffortLine]:
    """Efforts of a block that the protocol does not have: all extra, nothing to compare them with."""
    return [
        EffortLine(
            whose.key,
            whose.condition,
            *label,
            effort.number,
            None,
            local(effort.started, whose.zone),
            None,
            None,
            Fate.EXTRA,
        )
        for _, effort in efforts
    ]


def _missing(
    whose: Whose, block: BlockAsked, activity: Activity | None, efforts: Sequence[Effort], seen: set[int]
) -> list[EffortLine]:
    lacking = lacks(block.manoeuvre, efforts)
    if not lacking:
        return []
    numbers = (number for number in range(1, block.manoeuvre.at_most + 1) if number not in seen)
    first, lines = first_effort(activity), []
    for number, _ in zip(numbers, range(lacking), strict=False):
        due = planned_moment(first, activity, block.manoeuvre, number)
        planned = None if due is None else at(due, whose.zone)
        lines.append(
            EffortLine(
                whose.key, whose.condition, *block.label, number, planned, None, None, None, Fate.MISSING
            )
        )
    return lines


def lacks(manoeuvre: Manoeuvre, efforts: Sequence[Effort]) -> int:
    """Acceptable efforts that the block lacks to `at_least`; at `at_most` it ends anyway."""
    if len(efforts) >= manoeuvre.at_most:
        return 0
    acceptable = min(
        (_acceptable(efforts, line.reading) for line in manoeuvre.enough),
        default=_acceptable(efforts, None),
    )
    return max(0, min(manoeuvre.at_least - acceptable, manoeuvre.at_most - len(efforts)))


def _acceptable(efforts: Sequence[Effort], reading: str | None) -> int:
    """Efforts that count; one recorded without any reading counts, for nobody said that it does not.

    So does every effort where the block's record holds this reading nowhere: then it was not written down.
    """
    written = [v for effort in efforts for v in effort.values if reading in (None, v.reading)]
    if not written:
        return len(efforts)
    return sum(_counts(effort, reading) for effort in efforts)


def _counts(effort: Effort, reading: str | None) -> bool:
    if not effort.values:
        return True
    judged = [value.acceptable for value in effort.values if reading in (None, value.reading)]
    return bool(judged) and all(judged)
