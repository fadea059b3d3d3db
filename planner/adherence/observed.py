"""What the record shows of lengths and spreads, before anything is learned from it.

The record holds when efforts begin, not when they end. So an effort is taken as long as the protocol
says; a longer one shows as a longer rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from operator import itemgetter

from planner.adherence.asked import Asked, Label, asked
from planner.adherence.clearing import clearings
from planner.adherence.lateness import lateness
from planner.adherence.moments import RecordedMoments
from planner.adherence.ranges import Seen
from planner.adherence.recorded import VisitRecord, by_visit, protocol_files
from planner.protocol.model import Manoeuvre, Step
from planner.record.effort import Effort, Happened, VisitKey
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study


@dataclass(slots=True)
class Squares:
    """Squared distances from block means, of `efforts` values with `df` degrees of freedom."""

    total: float = 0.0
    df: int = 0
    efforts: int = 0
    people: set[str] = field(default_factory=set)


Lengths = dict[tuple[str, str], list[Seen]]


@dataclass(frozen=True)
class Observed:
    """Seconds by (protocol, manoeuvre or step), squares by (protocol, manoeuvre, reading).

    Squares are of the values, or of their ratio to the block's mean where the protocol gives the
    spread in `%`.
    """

    rest_s: Lengths = field(default_factory=dict)
    prepare_s: Lengths = field(default_factory=dict)
    clear_s: Lengths = field(default_factory=dict)
    bout_s: Lengths = field(default_factory=dict)
    delay_s: Lengths = field(default_factory=dict)
    late_s: Lengths = field(default_factory=dict)
    spread: dict[tuple[str, str, str], Squares] = field(default_factory=dict)


def observe(study: Study, happened: Happened, schedule: Schedule | None = None) -> Observed:
    """All observations of the visits that the study asks for; times that cannot be are left out.

    Whoever is done early may wait for the planned time, and waiting is neither preparing nor delay. So
    with a plan only what follows something that ran late tells of them; without one every gap counts.
    """
    planned = {} if schedule is None else _planned_starts(schedule)
    placed = {} if schedule is None else {visit_key(visit): visit for visit in schedule.visits}
    found = Observed()
    wanted = {name: asked(protocol) for name, protocol in study.protocols.items()}
    protocols = protocol_files(study)
    records = by_visit(happened)
    for key, record in records.items():
        if key in protocols:
            visit = wanted[protocols[key]]
            _observe_visit(found, visit, record, planned.get(key, {}))
            for step, late_s in lateness(visit, record, placed.get(key)):
                seen = found.late_s.setdefault((visit.protocol.name, step), [])
                seen.append(Seen(late_s, key.participant))
    if schedule is not None:
        for protocol, manoeuvre, seconds in clearings(study, wanted, records, schedule):
            found.clear_s.setdefault((protocol, manoeuvre), []).append(seconds)
    return found


Starts = Mapping[tuple[str, int | None, str | None], float]


def visit_key(visit: PlacedVisit) -> VisitKey:
    """Whose visit it is, as the record has it."""
    return VisitKey(visit.participant, visit.visit, visit.number)


def _planned_starts(schedule: Schedule) -> dict[VisitKey, Starts]:
    """Seconds of the epoch at which each activity is planned to start, by visit."""
    return {
        visit_key(visit): {
            (a.step, a.at_s, a.manoeuvre): a.start.timestamp() for a in reversed(visit.activities)
        }
        for visit in schedule.visits
    }


def _observe_visit(found: Observed, wanted: Asked, record: VisitRecord, planned: Starts) -> None:
    name, who = wanted.protocol.name, record.key.participant
    efforts = _in_order(wanted, record)
    kinds = (
        (found.rest_s, _rests(wanted, efforts)),
        (found.prepare_s, _preparing(wanted, efforts, planned)),
        (found.bout_s, _bouts(wanted, record)),
        (found.delay_s, _delays(wanted, record, planned)),
    )
    for lengths, seen in kinds:
        for of, seconds in seen:
            lengths.setdefault((name, of), []).append(Seen(seconds, who))
    for label, block in record.blocks.items():
        if label in wanted.blocks:
            efforts_of_block = [timed.effort for timed in block]
            _add_squares(found, name, who, wanted.blocks[label].manoeuvre, efforts_of_block)


Run = list[tuple[float, Label]]


def _in_order(wanted: Asked, record: VisitRecord) -> Run:
    """Every effort of a known block by time, with the seconds of the epoch at which it began."""
    found = [
        (timed.began, label)
        for label, efforts in record.blocks.items()
        if label in wanted.blocks
        for timed in efforts
    ]
    return sorted(found, key=itemgetter(0))


def _rests(wanted: Asked, efforts: Run) -> Iterator[tuple[str, float]]:
    """Rests between two efforts of a block with nothing between them."""
    for (began, label), (after, same) in pairwise(efforts):
        if label == same:
            rest_s = after - began - wanted.blocks[label].manoeuvre.effort_s
            if rest_s >= 0:
                yield label.manoeuvre, rest_s


def _preparing(wanted: Asked, efforts: Run, planned: Starts) -> Iterator[tuple[str, float]]:
    """From the end of one block to the first effort of the next of the same occurrence: it starts at once."""
    for (began, label), (after, other) in pairwise(efforts):
        if label != other and (label.step, label.at_s) == (other.step, other.at_s):
            free = began + wanted.blocks[label].manoeuvre.effort_s
            if free <= after and free >= planned.get(other, free):
                yield other.manoeuvre, after - free


def _bouts(wanted: Asked, record: VisitRecord) -> Iterator[tuple[str, float]]:
    """Tasks and bouts from mark to mark; one that a stop cut short says nothing of its length."""
    stopped = None if record.stopped is None else record.stopped.at.timestamp()
    for step in wanted.steps.values():
        start, end = record.mark(step.id, None, "start"), record.mark(step.id, None, "end")
        if step.takes is None or start is None or end is None:
            continue
        if end.timestamp() >= start.timestamp() and (stopped is None or end.timestamp() < stopped):
            yield step.id, end.timestamp() - start.timestamp()


def _delays(wanted: Asked, record: VisitRecord, planned: Starts) -> Iterator[tuple[str, float]]:
    """How much later than it could a step starts that waits for nothing but the end of the one before it."""
    moments = RecordedMoments(wanted, record)
    awaited = {step.due.anchor for step in wanted.steps.values() if step.due and step.due.side == "before"}
    free: float | None = None
    for step in wanted.protocol.visit:
        if step.due is None and step.id not in awaited and free is not None:
            start = moments.start(step.id)
            due = _planned_start(step, planned)
            if start is not None and start >= free and (due is None or free >= due):
                yield step.id, start - free
        free = free_after(step, moments, free)


def _planned_start(step: Step, planned: Starts) -> float | None:
    names: tuple[str | None, ...] = step.measure or (None,)
    return planned.get((step.id, None, names[0]))


def free_after(step: Step, moments: RecordedMoments, free: float | None) -> float | None:
    """When the participant is free for the next step; a rest is not recorded and counts at its length."""
    if step.rest_s is not None:
        return None if free is None else free + step.rest_s
    if step.due:
        labels = [Label(step.id, point.at_s, name) for point in step.due.time_points for name in step.measure]
        return moments.last_end(labels)
    return moments.end(step.id)


def _add_squares(
    found: Observed, protocol: str, who: str, manoeuvre: Manoeuvre, efforts: list[Effort]
) -> None:
    for reading in manoeuvre.readings.values():
        if reading.spread is None or reading.typical is None:
            continue
        values = _first_values(manoeuvre, reading.name, efforts)
        mean = sum(values) / len(values) if values else 0.0
        if len(values) < 2 or mean == 0:
            continue
        scale = abs(mean) if reading.spread.is_percent else 1.0
        squares = found.spread.setdefault((protocol, manoeuvre.id, reading.name), Squares())
        squares.total += sum((value - mean) ** 2 for value in values) / scale**2
        squares.df += len(values) - 1
        squares.efforts += len(values)
        squares.people.add(who)


def _first_values(manoeuvre: Manoeuvre, reading: str, efforts: list[Effort]) -> list[float]:
    """The acceptable values of the first `at_least` efforts, the assumed learning taken out.

    A block that goes on does so because its values lie far apart, and ends when they happen not to;
    the first `at_least` are the ones that the stop rule could not choose.
    """
    found = []
    for effort in efforts[: manoeuvre.at_least]:
        for value in effort.values:
            if value.reading == reading and value.acceptable:
                found.append(float(value.value) / _share_reached(manoeuvre, effort.number))
    return found


def _share_reached(manoeuvre: Manoeuvre, number: int) -> float:
    learning = manoeuvre.learning
    if learning is None:
        return 1.0
    return 1.0 - learning.gain * max(0.0, 1.0 - (number - 1) / learning.over)
