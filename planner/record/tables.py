"""The tables of the record and how an event becomes their rows and back. Made by the migrations."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa

from planner.record.events import Content, Draft, Event, Kind

metadata = sa.MetaData()
_NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")

event = sa.Table(
    "event",
    metadata,
    sa.Column("seq", _NUMBER, primary_key=True, autoincrement=False),
    sa.Column("token", sa.Text, nullable=False, unique=True),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("participant", sa.Text),
    sa.Column("visit", sa.Text),
    sa.Column("number", sa.Integer),
    sa.Column("step", sa.Text),
    sa.Column("at_s", sa.Integer),
    sa.Column("manoeuvre", sa.Text),
    sa.Column("effort", sa.Integer),
    sa.Column("reading", sa.Text),
    sa.Column("started", sa.Text),
    sa.Column("who", sa.Text, nullable=False),
    sa.Column("who_how", sa.Text, nullable=False),
    sa.Column("station", sa.Text, nullable=False),
    sa.Column("device_clock", sa.Text),
    sa.Column("server_clock", sa.Text, nullable=False),
    sa.Column("plan_version", sa.Integer),
    sa.Column("corrects", _NUMBER),
    sa.Column("undone", sa.Boolean, nullable=False),
    sa.Column("rig", sa.Text),
    sa.Column("digest", sa.Text, nullable=False),
    sa.Column("hash_before", sa.Text, nullable=False),
    sa.Column("hash", sa.Text, nullable=False),
    sa.Index("event_visit", "participant", "visit"),
    sa.Index("event_corrects", "corrects"),
    sa.Index("event_kind", "kind"),
)

content = sa.Table(
    "content",
    metadata,
    sa.Column("seq", _NUMBER, sa.ForeignKey("event.seq"), primary_key=True, autoincrement=False),
    sa.Column("salt", sa.Text),
    sa.Column("value", sa.Text),
    sa.Column("unit", sa.Text),
    sa.Column("acceptable", sa.Boolean),
    sa.Column("note", sa.Text),
    sa.Column("reason", sa.Text),
    sa.Column("raw", sa.Text),
)

removed = sa.Table(
    "removed",
    metadata,
    sa.Column("seq", _NUMBER, sa.ForeignKey("event.seq"), primary_key=True, autoincrement=False),
    sa.Column("by_event", _NUMBER, sa.ForeignKey("event.seq"), nullable=False),
)

about = sa.Table(
    "about",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)

present_line = sa.table(
    "present_line",
    *(
        sa.column(name)
        for name in (
            "seq", "as_of", "kind", "participant", "visit", "number", "step", "at_s", "manoeuvre", "effort",
            "reading", "started", "who", "station", "device_clock", "server_clock", "plan_version",
            "value", "unit", "acceptable", "note", "blanked", "rig",
        )
    ),
)  # fmt: skip


def event_row(made: Event) -> dict[str, Any]:
    """The event's row, without its content."""
    draft = made.draft
    same = ("token", "participant", "visit", "number", "step", "at_s", "manoeuvre", "effort", "reading",
            "started", "station", "device_clock", "plan_version", "corrects", "undone", "rig")  # fmt: skip
    row: dict[str, Any] = {name: getattr(draft, name) for name in same}
    row |= {"seq": made.seq, "kind": str(draft.kind), "who": draft.by, "who_how": draft.by_how}
    row |= {"server_clock": made.server_clock, "digest": made.digest}
    return row | {"hash_before": made.hash_before, "hash": made.hash}


def content_row(made: Event) -> dict[str, Any]:
    """The row of the event's content."""
    said = made.draft.content
    return {
        "seq": made.seq,
        "salt": made.salt,
        "value": said.value,
        "unit": said.unit,
        "acceptable": said.acceptable,
        "note": said.note,
        "reason": said.reason,
        "raw": said.raw,
    }


def event_of(row: Any) -> Event:
    """The event of a row of `event` joined with `content`; blanked content comes back empty."""
    said = Content(row.value, row.unit, row.acceptable, row.note or "", row.reason or "", row.raw or "")
    draft = Draft(
        Kind(row.kind), row.participant, row.visit, row.number, row.step, row.at_s, row.manoeuvre, row.effort,
        row.reading, row.started, row.who, row.who_how, row.station, row.device_clock, row.plan_version,
        row.corrects, bool(row.undone), row.rig, said, row.token,
    )  # fmt: skip
    return Event(row.seq, draft, row.server_clock, row.salt or "", row.digest, row.hash_before, row.hash)


def events_query() -> sa.Select[Any]:
    """All events with their content, in order."""
    said = content.c
    return (
        sa.select(event, said.salt, said.value, said.unit, said.acceptable, said.note, said.reason, said.raw)
        .outerjoin(content, said.seq == event.c.seq)
        .order_by(event.c.seq)
    )
