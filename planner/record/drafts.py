"""Lines, refused rows and plans as drafts of events, and recorded rows as lines again."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import UTC, datetime, tzinfo
from decimal import Decimal
from typing import Any

from planner.record.effort import VisitKey
from planner.record.events import Content, Draft, Kind
from planner.record.lines import Line, RefusedRow


@dataclass(frozen=True, slots=True)
class Hand:
    """Who records, from where, how known ("signed in", "picked" or "file"), and the plan in their hands."""

    by: str = ""
    how: str = ""
    station: str = ""
    plan_version: int | None = None
    device_clock: datetime | None = None


def line_draft(line: Line, hand: Hand, token: str | None = None) -> Draft:
    """The line as an event to be."""
    if line.is_mark:
        kind, said = Kind.MARK, Content(note=line.note)
    elif line.reading:
        value = None if line.value is None else f"{line.value:f}"
        kind, said = Kind.READING, Content(value, line.unit, line.acceptable, line.note)
    else:
        kind, said = Kind.EFFORT, Content(note=line.note)
    key = line.key
    if line.by_device is not None:
        hand = replace(hand, device_clock=line.by_device)
    return signed(
        Draft(
            kind, key.participant, key.visit, key.number, line.step, line.at_s, line.manoeuvre, line.effort,
            line.reading or None, line.started.isoformat(), rig=line.rig, content=said, **_token(token),
        ),
        hand,
    )  # fmt: skip


def _token(token: str | None) -> dict[str, Any]:
    return {} if token is None else {"token": token}


def signed(draft: Draft, hand: Hand) -> Draft:
    """The draft with who, where and when by their device."""
    clock = hand.device_clock.astimezone(UTC).isoformat() if hand.device_clock else None
    return replace(
        draft,
        by=hand.by,
        by_how=hand.how,
        station=hand.station,
        plan_version=hand.plan_version,
        device_clock=clock,
    )


def refused_draft(row: RefusedRow, file: str, participants: frozenset[str], hand: Hand) -> Draft:
    """A refused row, kept with its reason; its cells are content, so that a removal reaches them."""
    cells = {name: text for name, text in row.cells.items() if text}
    named = cells.get("participant", "")
    raw = json.dumps({"file": file, "row": row.row, "cells": cells}, ensure_ascii=False, sort_keys=True)
    known = named if named in participants else None
    return signed(Draft(Kind.REFUSED, participant=known, content=Content(reason=row.message, raw=raw)), hand)


LINE_COLUMNS = (
    "participant", "visit", "number", "step", "at_s", "manoeuvre", "effort", "reading", "started", "value",
    "unit", "acceptable", "note", "rig",
)  # fmt: skip


def lines_from(rows: Iterable[Any], zone: tzinfo) -> Iterator[Line]:
    """Rows of `LINE_COLUMNS` as lines; what many rows share (visits, times) is made once."""
    moments: dict[str, datetime] = {}
    keys: dict[tuple[str, str, int | None], VisitKey] = {}
    for (
        one,
        visit,
        number,
        step,
        at_s,
        manoeuvre,
        effort,
        reading,
        started,
        value,
        unit,
        accepted,
        note,
        rig,
    ) in rows:
        if (moment := moments.get(started)) is None:
            moment = moments[started] = datetime.fromisoformat(started).astimezone(zone)
        if (key := keys.get((one, visit, number))) is None:
            key = keys[one, visit, number] = VisitKey(one, visit, number)
        number_read = None if value is None else Decimal(value)
        acceptable = accepted is None or bool(accepted)
        yield Line(
            key, step, at_s, manoeuvre, effort, reading or "", moment, number_read, unit or "", acceptable,
            note or "", rig=rig,
        )  # fmt: skip


def line_of(row: Any, zone: tzinfo) -> Line:
    """A row of `present_line` as a line, its time in the study's zone."""
    return Line(
        VisitKey(row.participant, row.visit, row.number),
        row.step,
        row.at_s,
        row.manoeuvre,
        row.effort,
        row.reading or "",
        datetime.fromisoformat(row.started).astimezone(zone),
        None if row.value is None else Decimal(row.value),
        row.unit or "",
        row.acceptable is None or bool(row.acceptable),
        row.note or "",
        rig=row.rig,
    )
