"""What holds between visits: the day, the time of day, days between visits, the order of conditions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import pairwise

from planner.adherence.asked import Asked
from planner.adherence.model import Deviation, Presence, VisitLine
from planner.adherence.moments import RecordedMoments
from planner.adherence.recorded import VisitRecord, at, local
from planner.clock import DaySpan, seconds_between
from planner.record.effort import VisitKey
from planner.schedule.model import PlacedVisit
from planner.study.model import Study, Visit


def visit_line(
    study: Study,
    visit: Visit,
    key: VisitKey,
    wanted: Asked,
    record: VisitRecord | None,
    placed: PlacedVisit | None,
    last: float | None,
) -> VisitLine:
    """What the record holds of a visit. `last` is the latest instant of the whole record."""
    planned = placed.start if placed else None
    begun = None if record is None else first_moment(wanted, record)
    happened = None if begun is None else at(begun, study.zone)
    off_s = seconds_between(planned, happened) if planned and happened else None
    stopped = local(record.stopped.at, study.zone) if record and record.stopped else None
    presence = _presence(record, placed, last)
    return VisitLine(key, visit.condition, presence, placed is not None, planned, happened, off_s, stopped)


def _presence(record: VisitRecord | None, placed: PlacedVisit | None, last: float | None) -> Presence:
    if record is not None:
        return Presence.STOPPED if record.stopped else Presence.RECORDED
    if placed and last is not None and placed.end.timestamp() < last:
        return Presence.PASSED_BY
    return Presence.TO_COME


def first_moment(wanted: Asked, record: VisitRecord) -> float | None:
    """The earliest recorded moment: a mark, or an effort less the preparing of its block."""
    moments = RecordedMoments(wanted, record)
    marks = [mark.at.timestamp() for mark in record.marks.values()]
    starts = [
        first - wanted.blocks[label].manoeuvre.prepare_s
        for label in record.blocks
        if label in wanted.blocks and (first := moments.first_effort(label)) is not None
    ]
    unknown = [efforts[0].began for efforts in record.blocks.values()]
    return min([*marks, *starts] or unknown, default=None)


def between_visits(study: Study, lines: Sequence[VisitLine]) -> list[Deviation]:
    """Deviations that no visit shows on its own."""
    by_participant: dict[str, list[VisitLine]] = {}
    for line in lines:
        by_participant.setdefault(line.key.participant, []).append(line)
    found: list[Deviation] = []
    for participant, visits in by_participant.items():
        spans = {VisitKey(participant, v.kind, v.number): v.gap for v in study.asked[participant]}
        found += _passed_by(visits)
        found += _other_day(visits)
        found += _gaps(visits, spans)
        found += _order(visits)
        found += _time_of_day(study, visits)
    return found


def _deviation(
    kind: str, line: VisitLine, when: datetime | None, size: int | None, unit: str, words: str
) -> Deviation:
    return Deviation(kind, line.key, None, None, None, None, when, size, unit, False, words)


def _passed_by(visits: Sequence[VisitLine]) -> Iterator[Deviation]:
    for line in visits:
        if line.presence is Presence.PASSED_BY:
            words = "planned, and later visits have a record, but this one has none"
            yield _deviation("visit without a record", line, line.planned, None, "", words)


def _other_day(visits: Sequence[VisitLine]) -> Iterator[Deviation]:
    for line in visits:
        if line.planned and line.happened and (size := (line.happened.date() - line.planned.date()).days):
            words = f"on {line.happened:%Y-%m-%d}, planned for {line.planned:%Y-%m-%d}"
            yield _deviation("other day", line, line.happened, size, "d", words)


def _gaps(visits: Sequence[VisitLine], spans: dict[VisitKey, DaySpan | None]) -> Iterator[Deviation]:
    """Calendar days since the visit before, in the order in which the visits should come."""
    for before, line in pairwise(visits):
        span = spans[line.key]
        if span is None or before.happened is None or line.happened is None:
            continue
        days = (line.happened.date() - before.happened.date()).days
        short, long = days - span.at_least, days - (days if span.at_most is None else span.at_most)
        if size := min(short, 0) + max(long, 0):
            least = f"at least {span.at_least}"
            words = f"{days} d after the visit before; {least}{_most(span)} asked for"
            yield _deviation("days between visits", line, line.happened, size, "d", words)


def _most(span: DaySpan) -> str:
    return "" if span.at_most is None else f" and at most {span.at_most}"


def _order(visits: Sequence[VisitLine]) -> Iterator[Deviation]:
    """Visits (and with them conditions) that came before one that should come earlier."""
    come = [line for line in visits if line.happened]
    for place, line in enumerate(come):
        earlier = [other for other in come[:place] if other.happened > line.happened]  # type: ignore[operator]
        if earlier:
            what = "condition order" if line.condition else "visit order"
            words = f"came before {len(earlier)} visit(s) that should come before it"
            yield _deviation(what, line, line.happened, -len(earlier), "visits", words)


def _time_of_day(study: Study, visits: Sequence[VisitLine]) -> Iterator[Deviation]:
    """Local clock times of starts that lie further apart than the study allows, from the earliest."""
    allowed_s = study.same_time_of_day_s
    judged = [line for line in visits if line.key.number is not None] or list(visits)
    clocks = [(_clock_s(line.happened), line) for line in judged if line.happened]
    if allowed_s is None or not clocks:
        return
    first_s = min(clock for clock, _ in clocks)
    for clock, line in clocks:
        if clock - first_s > allowed_s:
            words = f"began {(clock - first_s) // 60} min later in the day than another visit"
            yield _deviation("time of day", line, line.happened, clock - first_s - allowed_s, "s", words)


def _clock_s(moment: datetime) -> int:
    return moment.hour * 3600 + moment.minute * 60 + moment.second
