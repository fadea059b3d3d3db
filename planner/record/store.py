"""The record of one study: append-only, kept through a pulled plug, sent twice and kept once."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Engine

from planner.record.append import Outcome
from planner.record.caught import CAUGHT, is_lost
from planner.record.drafts import LINE_COLUMNS, Hand, line_draft, lines_from, refused_draft, signed
from planner.record.effort import Happened
from planner.record.efforts_file import EffortsFile
from planner.record.engine import (
    bring_up,
    database_file,
    is_ready,
    private_folder,
    refuse_other_kind,
    schema_name,
    sqlite_engine,
)
from planner.record.events import Content, Draft, Kind
from planner.record.lines import EffortKey, Line, RefusedRow, gather, lines_of
from planner.record.tables import event, present_line
from planner.record.troubles import in_words
from planner.record.writer import Writer
from planner.schedule.model import Schedule
from planner.study.model import Study

URL_NAME = "TESTDAY_RECORD_URL"
_AT_ONCE = 400
# One question alone: on PostgreSQL without a transaction around it, which would be two trips more.
_ONE_READ: dict[bool, dict[str, Any]] = {
    False: {"testday_reads": True},
    True: {"testday_reads": True, "isolation_level": "AUTOCOMMIT"},
}


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of the lines of a file; refused ones with their row and why, kept in the record too."""

    added: int
    already_there: int
    refused: tuple[RefusedRow, ...]

    def as_json(self) -> dict[str, Any]:
        """The keys that the formats fix."""
        refused = [{"row": one.row, "message": one.message} for one in self.refused]
        return {"added": self.added, "already_there": self.already_there, "refused": refused}


@dataclass(slots=True)
class Store:
    """An open record; use it in a `with`, or call `close`."""

    study: Study
    engine: Engine
    rehearsed: bool
    writer: Writer
    path: Path | None  # None on PostgreSQL
    _participants: frozenset[str] = field(init=False)

    def __post_init__(self) -> None:
        self._participants = frozenset(self.study.participants)

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()

    def append(self, drafts: Sequence[Draft], *, whole: bool = False) -> tuple[Outcome, ...]:
        """Record the drafts (`whole`: all or none); what comes back is on the disk, else RecordTrouble."""
        return self.writer.send(drafts, whole=whole)

    def prepare(self) -> None:
        """Make the first effort as quick as the next ones; nothing is recorded."""
        self.writer.prepare()

    def take(
        self,
        lines: EffortsFile | Happened | Iterable[Line | RefusedRow],
        *,
        by: str | None = None,
        station: str = "",
        plan_version: int | None = None,
    ) -> Taken:
        """Take lines into the record, each once; what cannot stand is refused and kept with its reason."""
        name = lines.name if isinstance(lines, EffortsFile) else ""
        hand = Hand(by or "", "file", station, plan_version)
        rows = _one_start_each([self._of_our_kind(row) for row in _rows(lines)])
        added = there = 0
        refused: list[RefusedRow] = []
        for start in range(0, len(rows), _AT_ONCE):
            part = rows[start : start + _AT_ONCE]
            drafts = [self._draft(row, name, hand) for row in part]
            late: list[RefusedRow] = []
            for row, outcome in zip(part, self.append(drafts), strict=True):
                if isinstance(row, RefusedRow):
                    refused.append(row)
                elif outcome.what == "refused":
                    late.append(RefusedRow(row.row, outcome.message, row.cells or _as_cells(row)))
                else:
                    added += outcome.what == "added"
                    there += outcome.what == "already there"
            if late:
                self.append([refused_draft(row, name, self._participants, hand) for row in late])
            refused += late
        return Taken(added, there, tuple(sorted(refused, key=lambda row: row.row)))

    def _of_our_kind(self, row: Line | RefusedRow) -> Line | RefusedRow:
        """Rehearsed and real lines never stand in one record."""
        if isinstance(row, RefusedRow) or row.is_rehearsed == self.rehearsed:
            return row
        words = (
            "this line is real, and this record is a rehearsal; it was not taken"
            if self.rehearsed
            else "this line is rehearsed, and this record is real; it was not taken"
        )
        return RefusedRow(row.row, words, row.cells or _as_cells(row))

    def _draft(self, row: Line | RefusedRow, name: str, hand: Hand) -> Draft:
        if isinstance(row, RefusedRow):
            return refused_draft(row, name, self._participants, hand)
        return line_draft(row, hand)

    def plan_in_force(self, schedule: Schedule, *, by: str | None = None, station: str = "") -> Outcome:
        """Record that a plan was put in force; the same one again is already there."""
        raw = json.dumps({"fingerprint": schedule.fingerprint, "made": schedule.made.isoformat()})
        draft = Draft(Kind.PLAN, content=Content(raw=raw))
        return self.append([signed(draft, Hand(by or "", "picked", station, schedule.version))])[0]

    def lines(self, participant: str | None = None, visit: str | None = None) -> tuple[Line, ...]:
        """The lines as they stand, corrections applied, in the order in which they were recorded."""
        query = _of_visit(sa.select(*(present_line.c[name] for name in LINE_COLUMNS)), participant, visit)
        return tuple(lines_from(self.stream(query), self.study.zone))

    def rows(self, participant: str | None = None, visit: str | None = None) -> Sequence[Any]:
        """Rows of the view of the present, with who, station, clocks and plan."""
        return self.read(_of_visit(sa.select(present_line), participant, visit))

    def rows_of(self, seqs: Iterable[int]) -> Sequence[Any]:
        """The present lines with these numbers."""
        return self.read(sa.select(present_line).where(present_line.c.seq.in_(list(seqs))))

    def plan_version(self) -> int | None:
        """The version of the plan that was put in force last, as far as the record knows."""
        # The sum keeps a database from walking back along all events until it meets a plan.
        last = sa.select(sa.func.max(event.c.seq + 0)).where(event.c.kind == str(Kind.PLAN))
        found = self.read(sa.select(event.c.plan_version).where(event.c.seq == last.scalar_subquery()))
        return int(found[0].plan_version) if found else None

    def read(self, query: sa.Select[Any], values: Mapping[str, object] | None = None) -> Sequence[Any]:
        """The rows of a query with its values, without waiting for whoever is writing."""
        try:
            return self._rows(query, values)
        except CAUGHT as error:
            if not is_lost(error):
                raise in_words(error) from error
        try:
            return self._rows(query, values)
        except CAUGHT as error:
            raise in_words(error) from error

    def _rows(self, query: sa.Select[Any], values: Mapping[str, object] | None) -> Sequence[Any]:
        with self.engine.connect().execution_options(**_ONE_READ[self.path is None]) as connection:
            return connection.execute(query, values).all()

    def stream(self, query: sa.Select[Any]) -> Iterator[Any]:
        """The rows of a query that gives many, a part at a time."""
        self.read(sa.select(sa.literal(1)))  # a connection that was lost meanwhile is found out here
        try:
            with self.engine.connect().execution_options(testday_reads=True, yield_per=5000) as connection:
                for part in connection.execute(query).partitions():
                    yield from part
        except CAUGHT as error:
            raise in_words(error) from error

    def happened(self) -> Happened:
        """Everything recorded, corrections applied, in order of time."""
        return gather(self.lines(), rehearsed=self.rehearsed)

    def now(self) -> datetime:
        """The server's clock, in the study's zone."""
        return self.writer.clock().astimezone(self.study.zone)

    def length(self) -> int:
        """The number of the last event, 0 where there is none: it grows with everything recorded."""
        return int(self.read(sa.select(sa.func.coalesce(sa.func.max(event.c.seq), 0)))[0][0])

    def is_empty(self) -> bool:
        """Whether no line stands in it."""
        return not self.read(sa.select(present_line.c.seq).limit(1))


def _of_visit(query: sa.Select[Any], participant: str | None, visit: str | None) -> sa.Select[Any]:
    if participant is not None:
        query = query.where(present_line.c.participant == participant)
    if visit is not None:
        query = query.where(present_line.c.visit == visit)
    return query.order_by(present_line.c.seq)


def _rows(lines: EffortsFile | Happened | Iterable[Line | RefusedRow]) -> Sequence[Line | RefusedRow]:
    if isinstance(lines, EffortsFile):
        return lines.rows
    return lines_of(lines) if isinstance(lines, Happened) else list(lines)


def _one_start_each(rows: Sequence[Line | RefusedRow]) -> list[Line | RefusedRow]:
    """Refuses all lines of an effort that the file itself starts at different times: which is right?."""
    starts: dict[EffortKey, set[float]] = {}
    for row in rows:
        if isinstance(row, Line) and not row.is_mark:
            starts.setdefault(row.line_key.of, set()).add(row.started.timestamp())
    return [
        RefusedRow(
            row.row,
            f"lines of effort {row.effort} have different times in 'started'",
            row.cells or _as_cells(row),
        )
        if isinstance(row, Line) and not row.is_mark and len(starts[row.line_key.of]) > 1
        else row
        for row in rows
    ]


def _as_cells(line: Line) -> Mapping[str, str]:
    return {
        "participant": line.key.participant,
        "visit": line.key.visit if line.key.number is None else f"{line.key.visit}/{line.key.number}",
        "step": line.step,
        "manoeuvre": line.manoeuvre or "",
        "effort": str(line.effort or ""),
        "started": line.started.isoformat(),
        "reading": line.reading,
        "value": "" if line.value is None else f"{line.value:f}",
        "note": line.note,
    }


def open_store(study: Study, *, rehearsed: bool = False, url: str | None = None) -> Store:
    """The study's record, made if there is none: SQLite in its folder, or PostgreSQL at `url`.

    Without `url` the environment's TESTDAY_RECORD_URL counts. RecordTrouble says why it cannot be opened.
    """
    folder = private_folder(study)
    at = url or os.environ.get(URL_NAME)
    if at:
        from planner.record.accounts import postgres_store_engine

        engine = postgres_store_engine(at, schema_name(study, rehearsed=rehearsed))
        return Store(study, engine, rehearsed, Writer(engine, folder, rehearsed=rehearsed), None)
    path = database_file(study, rehearsed=rehearsed)
    engine = sqlite_engine(path)
    writer = Writer(engine, folder, rehearsed=rehearsed)
    if is_ready(engine, path):
        refuse_other_kind(engine, rehearsed=rehearsed)
    else:
        with writer.alone():
            bring_up(engine, rehearsed=rehearsed)
    return Store(study, engine, rehearsed, writer, path)


def open_recorded(study: Study, *, url: str | None = None) -> Store:
    """The record that holds something: the real one, or where that is empty the rehearsal."""
    if url or os.environ.get(URL_NAME):
        kinds = [False, True]
    else:
        kinds = [kind for kind in (False, True) if database_file(study, rehearsed=kind).exists()]
    for rehearsed in kinds:
        found = open_store(study, rehearsed=rehearsed, url=url)
        if not found.is_empty():
            return found
        found.close()
    return open_store(study, url=url)


def open_store_for(study: Study, file: EffortsFile, *, url: str | None = None) -> Store:
    """The record that a file's lines go to: the one that holds something, else that of the file's own kind.

    Once a study's record holds real efforts, rehearsed lines are refused there row by row, and the
    other way round: a rehearsal is put away before the first real effort is taken from a file.
    """
    found = open_recorded(study, url=url)
    if not found.is_empty() or found.rehearsed == file.rehearsed:
        return found
    found.close()
    return open_store(study, rehearsed=file.rehearsed, url=url)
