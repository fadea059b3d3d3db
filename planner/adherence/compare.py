"""The whole study: every visit judged, then the rules between visits, then the counts."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import chain

from planner.adherence.asked import Asked, asked
from planner.adherence.beside import NOTHING, Beside, refused_notes
from planner.adherence.block import Whose
from planner.adherence.deviation import Judged
from planner.adherence.device_clock import of_device_clocks
from planner.adherence.devices import of_devices, rigs_kept
from planner.adherence.disorder import visit_deviations
from planner.adherence.hands import other_hands, staff_kept
from planner.adherence.model import (
    Adherence,
    Counts,
    Deviation,
    EffortLine,
    Fate,
    Note,
    VisitLine,
)
from planner.adherence.moments import planned_moments
from planner.adherence.notes import record_notes
from planner.adherence.recorded import VisitRecord, by_visit
from planner.adherence.visit import VisitFound, judge_visit
from planner.adherence.visits import between_visits, visit_line
from planner.record.effort import Happened, VisitKey
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study, Visit


@dataclass(slots=True)
class _Gathered:
    """Rows of all visits, in order."""

    visits: list[VisitLine] = field(default_factory=list)
    found: list[VisitFound] = field(default_factory=list)
    deviations: list[Deviation] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)
    refused: int = 0


def compare(
    study: Study, schedule: Schedule | None, happened: Happened, *, beside: Beside = NOTHING
) -> Adherence:
    """How closely the record kept to the plan (None: to the protocols alone, without clock times).

    A visit is judged as soon as the record holds a line of it. One without any line is no missed
    time point: it is listed among the visits, as passed by where the record has gone past its
    planned end, else as still to come. Lines of visits that the study does not ask for cannot be
    judged: they are counted as refused and said in the notes. Without a plan, time points are
    judged all the same, for they count from the recorded anchor. `beside` tells who wrote lines down
    and which rows were refused; without it neither is judged.
    """
    with _no_collecting():
        return _compare(study, schedule, happened, beside)


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Pause the search for reference cycles: rows have none, and it costs two fifths of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _compare(study: Study, schedule: Schedule | None, happened: Happened, beside: Beside) -> Adherence:
    records = by_visit(happened)
    placed = {} if schedule is None else {_key(visit): visit for visit in schedule.visits}
    protocols = {name: asked(protocol) for name, protocol in study.protocols.items()}
    all_asked = _asked_for(study)
    gathered = _Gathered()
    last = _latest(records)
    for key, visit in all_asked.items():
        _judge(gathered, study, visit, key, protocols, records.get(key), placed.get(key), last)
    for key in records.keys() - all_asked.keys():
        _refuse(gathered, records[key])
    gathered.notes += _plan_notes(schedule, records)
    gathered.notes += refused_notes(beside.refused)
    gathered.deviations += between_visits(study, gathered.visits)
    if schedule and beside.hands:
        gathered.deviations += other_hands(schedule, beside.hands, turned_on=beside.by_person)
    return _adherence(study, schedule, happened, gathered, beside)


def _judge(
    gathered: _Gathered,
    study: Study,
    visit: Visit,
    key: VisitKey,
    protocols: Mapping[str, Asked],
    record: VisitRecord | None,
    placed: PlacedVisit | None,
    last: float | None,
) -> None:
    wanted = protocols[visit.protocol]
    line = visit_line(study, visit, key, wanted, record, placed, last)
    gathered.visits.append(line)
    if record is None:
        return
    whose = Whose(key, visit.condition, study.zone, record.stopped is not None)
    planned = planned_moments(placed) if placed else None
    found = judge_visit(whose, wanted, record, planned)
    gathered.found.append(found)
    gathered.deviations += visit_deviations(Judged(wanted, record, line, found))
    gathered.deviations += of_devices(record, planned)
    gathered.notes += record_notes(wanted, found, record, line)
    gathered.notes += of_device_clocks(record, planned)


def _key(visit: PlacedVisit) -> VisitKey:
    return VisitKey(visit.participant, visit.visit, visit.number)


def _asked_for(study: Study) -> dict[VisitKey, Visit]:
    return {
        VisitKey(visit.participant, visit.kind, visit.number): visit
        for visits in study.asked.values()
        for visit in visits
    }


def _latest(records: Mapping[VisitKey, VisitRecord]) -> float | None:
    """The latest recorded instant of all."""
    efforts = (block[-1].began for record in records.values() for block in record.blocks.values())
    marks = (mark.at.timestamp() for record in records.values() for mark in record.marks.values())
    return max(chain(efforts, marks), default=None)


def _refuse(gathered: _Gathered, record: VisitRecord) -> None:
    efforts = sum(map(len, record.blocks.values()))
    gathered.refused += efforts
    words = f"the study asks for no such visit; its {efforts} recorded efforts are not judged"
    gathered.notes.append(Note("unknown visit", record.key, words))


def _plan_notes(schedule: Schedule | None, records: Mapping[VisitKey, VisitRecord]) -> list[Note]:
    """Visits whose record began before the plan was made: they cannot have been meant to keep to it."""
    if schedule is None:
        return []
    made = schedule.made.timestamp()
    planned = {_key(visit) for visit in schedule.visits}
    words = f"its record began before version {schedule.version} of the plan was made"
    return [
        Note("plan made later", key, words)
        for key, record in records.items()
        if key in planned and (began := record.began()) is not None and began < made
    ]


def _adherence(
    study: Study, schedule: Schedule | None, happened: Happened, gathered: _Gathered, beside: Beside
) -> Adherence:
    found = gathered.found
    blocks = tuple(line for visit in found for line in visit.blocks)
    efforts = tuple(line for visit in found for line in visit.efforts)
    return Adherence(
        study=study.name,
        plan_version=schedule.version if schedule else None,
        rehearsed=happened.rehearsed,
        efforts=efforts,
        time_points=tuple(line for visit in found for line in visit.points),
        blocks=blocks,
        rests=tuple(line for visit in found for line in visit.rests),
        visits=tuple(gathered.visits),
        deviations=tuple(gathered.deviations),
        notes=tuple(gathered.notes),
        counts=_counts(found, efforts, len(happened.efforts), gathered.refused),
        blind=frozenset(kind.id for kind in study.kinds if kind.blind),
        rigs=rigs_kept(blocks),
        staff=staff_kept(schedule, blocks, beside.hands) if schedule and beside.hands is not None else None,
        refused_rows=len(beside.refused),
    )


def _counts(
    found: Sequence[VisitFound], efforts: Sequence[EffortLine], recorded: int, refused: int
) -> Counts:
    fates = [line.fate for line in efforts]
    matched, extra = fates.count(Fate.MATCHED), fates.count(Fate.EXTRA)
    planned = sum(visit.planned_efforts for visit in found)
    return Counts(planned, recorded, matched, fates.count(Fate.MISSING), extra, refused)
