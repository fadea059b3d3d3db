"""How long clearing a rig took, as far as the next participant on it tells.

Nobody records clearing. But where one participant was still on the rig when the next one was planned to
start on it, that one waited for nothing but the clearing: the time from the last effort to the next
one's preparing is the clearing. Only such pairs are taken, so that it is not the clearing itself, long
or short, that decides whether it is seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise
from typing import NamedTuple

from planner.adherence.asked import Asked, Label
from planner.adherence.moments import RecordedMoments
from planner.adherence.ranges import Seen
from planner.adherence.recorded import VisitRecord, protocol_files
from planner.protocol.model import Manoeuvre
from planner.record.effort import VisitKey
from planner.schedule.model import Activity, Schedule
from planner.study.model import Study


class _Use(NamedTuple):
    """One planned block on a rig."""

    start: float
    key: VisitKey
    activity: Activity


def clearings(
    study: Study,
    wanted: Mapping[str, Asked],
    records: Mapping[VisitKey, VisitRecord],
    schedule: Schedule,
) -> Iterator[tuple[str, str, Seen]]:
    """(protocol, manoeuvre, seconds of whom) for each clearing that the next one on the rig waited for."""
    files = protocol_files(study)
    for uses in _by_rig(schedule).values():
        for before, after in pairwise(uses):
            if before.key == after.key or after.activity.at_s is not None:
                continue
            if not {before.key, after.key} <= records.keys() & files.keys():
                continue
            first = wanted[files[before.key]], records[before.key]
            then = wanted[files[after.key]], records[after.key]
            seconds = _seconds(before, first, after, then)
            if seconds is not None:
                seen = Seen(seconds, before.key.participant)
                yield first[0].protocol.name, str(before.activity.manoeuvre), seen


def _by_rig(schedule: Schedule) -> dict[str, list[_Use]]:
    found: dict[str, list[_Use]] = {}
    for visit in schedule.visits:
        key = VisitKey(visit.participant, visit.visit, visit.number)
        for activity in visit.activities:
            if activity.manoeuvre is not None:
                for rig in activity.rigs:
                    found.setdefault(rig, []).append(_Use(activity.start.timestamp(), key, activity))
    for uses in found.values():
        uses.sort(key=lambda use: use.start)
    return found


def _seconds(
    before: _Use, first: tuple[Asked, VisitRecord], after: _Use, then: tuple[Asked, VisitRecord]
) -> float | None:
    cleared, next_one = _manoeuvre(first[0], before), _manoeuvre(then[0], after)
    if cleared is None or cleared.clear is None or next_one is None:
        return None
    end = RecordedMoments(*first).last_end([_label(before)])
    begin = RecordedMoments(*then).first_effort(_label(after))
    if end is None or begin is None:
        return None
    seconds = begin - next_one.prepare_s - end
    return seconds if end >= after.start and seconds >= 0 else None


def _label(use: _Use) -> Label:
    return Label(use.activity.step, use.activity.at_s, str(use.activity.manoeuvre))


def _manoeuvre(asked: Asked, use: _Use) -> Manoeuvre | None:
    block = asked.blocks.get(_label(use))
    return block.manoeuvre if block else None
