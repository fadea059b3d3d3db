"""The record by visit and block, each block in order of time."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, tzinfo

from planner.adherence.asked import Label
from planner.record.effort import Effort, Happened, Mark, VisitKey


@dataclass(slots=True)
class VisitRecord:
    """All that is recorded of one visit; efforts of a block by time, then number."""

    key: VisitKey
    blocks: dict[Label, list[Effort]] = field(default_factory=dict)
    marks: dict[tuple[str, int | None, str], Mark] = field(default_factory=dict)
    stopped: Mark | None = None

    def mark(self, step: str, at_s: int | None, what: str) -> datetime | None:
        """The instant of that mark, or None."""
        found = self.marks.get((step, at_s, what))
        return found.at if found else None

    def in_order(self) -> list[tuple[float, Label, Effort]]:
        """Every effort with its label and seconds of the epoch, by time."""
        found = [
            (effort.started.timestamp(), label, effort)
            for label, efforts in self.blocks.items()
            for effort in efforts
        ]
        found.sort(key=lambda entry: (entry[0], entry[2].number))
        return found


def by_visit(happened: Happened) -> dict[VisitKey, VisitRecord]:
    """The record of every visit that has a line; nothing is left out."""
    records: dict[VisitKey, VisitRecord] = {}
    for effort in happened.efforts:
        record = records.get(effort.key)
        if record is None:
            record = records[effort.key] = VisitRecord(effort.key)
        label = Label(effort.step, effort.at_s, effort.manoeuvre)
        efforts = record.blocks.get(label)
        if efforts is None:
            record.blocks[label] = [effort]
        else:
            efforts.append(effort)
    for mark in happened.marks:
        record = records.setdefault(mark.key, VisitRecord(mark.key))
        _take_mark(record, mark)
    for record in records.values():
        for efforts in record.blocks.values():
            if len(efforts) > 1:
                efforts.sort(key=_time_then_number)
    return records


def _time_then_number(effort: Effort) -> tuple[float, int]:
    return effort.started.timestamp(), effort.number


def _take_mark(record: VisitRecord, mark: Mark) -> None:
    if mark.what == "stopped":
        if record.stopped is None or mark.at.timestamp() < record.stopped.at.timestamp():
            record.stopped = mark
    else:
        record.marks[(mark.step, mark.at_s, mark.what)] = mark


def at(seconds: float, zone: tzinfo) -> datetime:
    """The instant of those seconds of the epoch, in the study's zone."""
    return datetime.fromtimestamp(seconds, tz=zone)


def local(moment: datetime, zone: tzinfo) -> datetime:
    """The same instant in the study's zone."""
    return moment if moment.tzinfo is zone else moment.astimezone(zone)
