"""The record by visit and block, each block in order of time."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from operator import itemgetter
from typing import NamedTuple

from planner.adherence.asked import Label
from planner.record.effort import Effort, Happened, Mark, VisitKey
from planner.study.model import Study


class Timed(NamedTuple):
    """An effort and the seconds of the epoch at which it began, reckoned once."""

    began: float
    effort: Effort


@dataclass(slots=True)
class VisitRecord:
    """All that is recorded of one visit; efforts of a block by time, then number."""

    key: VisitKey
    blocks: dict[Label, list[Timed]] = field(default_factory=dict)
    marks: dict[tuple[str, int | None, str], Mark] = field(default_factory=dict)
    stopped: Mark | None = None

    def mark(self, step: str, at_s: int | None, what: str) -> datetime | None:
        """The instant of that mark, or None."""
        found = self.marks.get((step, at_s, what))
        return found.at if found else None

    def runs(self) -> tuple[list[Label], list[int]]:
        """The blocks as they follow each other in time, and how many efforts stand together each time."""
        found = [
            (timed.began, timed.effort.number, label)
            for label, efforts in self.blocks.items()
            for timed in efforts
        ]
        found.sort(key=itemgetter(0, 1))
        labels: list[Label] = []
        numbers: list[int] = []
        for _, _, label in found:
            if labels and labels[-1] is label:
                numbers[-1] += 1
            else:
                labels.append(label)
                numbers.append(1)
        return labels, numbers

    def began(self) -> float | None:
        """The earliest effort."""
        return min((efforts[0].began for efforts in self.blocks.values()), default=None)


def by_visit(happened: Happened) -> dict[VisitKey, VisitRecord]:
    """The record of every visit that has a line; nothing is left out."""
    records: dict[VisitKey, VisitRecord] = {}
    for effort in happened.efforts:
        record = records.get(effort.key)
        if record is None:
            record = records[effort.key] = VisitRecord(effort.key)
        label = Label(effort.step, effort.at_s, effort.manoeuvre)
        timed = Timed(effort.started.timestamp(), effort)
        efforts = record.blocks.get(label)
        if efforts is None:
            record.blocks[label] = [timed]
        else:
            efforts.append(timed)
    for mark in happened.marks:
        record = records.setdefault(mark.key, VisitRecord(mark.key))
        _take_mark(record, mark)
    for record in records.values():
        for efforts in record.blocks.values():
            if len(efforts) > 1:
                efforts.sort(key=_time_then_number)
    return records


def _time_then_number(timed: Timed) -> tuple[float, int]:
    return timed.began, timed.effort.number


def _take_mark(record: VisitRecord, mark: Mark) -> None:
    if mark.what == "stopped":
        if record.stopped is None or mark.at.timestamp() < record.stopped.at.timestamp():
            record.stopped = mark
    else:
        record.marks[(mark.step, mark.at_s, mark.what)] = mark


def protocol_files(study: Study) -> dict[VisitKey, str]:
    """The name of the protocol's file for every visit that the study asks for."""
    return {
        VisitKey(visit.participant, visit.kind, visit.number): visit.protocol
        for visits in study.asked.values()
        for visit in visits
    }


def at(seconds: float, zone: tzinfo | None) -> datetime:
    """The instant of those seconds of the epoch, in the study's zone."""
    return datetime.fromtimestamp(seconds, tz=zone)


def local(moment: datetime, zone: tzinfo) -> datetime:
    """The same instant in the study's zone."""
    return moment if moment.tzinfo is zone else moment.astimezone(zone)
