"""Events, their content, what was removed; the refusal of every change; the view of the present."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_NEVER = "recorded events are never changed or deleted"
_PRESENT = """
CREATE VIEW present_line AS
SELECT e.seq, coalesce(c.seq, e.seq) AS as_of, e.kind, e.participant, e.visit, e.number, e.step, e.at_s,
       e.manoeuvre, e.effort, e.reading, coalesce(c.started, e.started) AS started, e.who, e.station,
       e.device_clock, e.server_clock, e.plan_version,
       CASE WHEN c.seq IS NULL THEN ec.value ELSE cc.value END AS value,
       CASE WHEN c.seq IS NULL THEN ec.unit ELSE cc.unit END AS unit,
       CASE WHEN c.seq IS NULL THEN ec.acceptable ELSE cc.acceptable END AS acceptable,
       CASE WHEN c.seq IS NULL THEN ec.note ELSE cc.note END AS note,
       CASE WHEN c.seq IS NULL THEN ec.salt IS NULL ELSE cc.salt IS NULL END AS blanked
FROM event e
LEFT JOIN (SELECT corrects, max(seq) AS seq FROM event WHERE corrects IS NOT NULL GROUP BY corrects) AS latest
       ON latest.corrects = e.seq
LEFT JOIN event c ON c.seq = latest.seq
LEFT JOIN content ec ON ec.seq = e.seq
LEFT JOIN content cc ON cc.seq = c.seq
WHERE e.kind IN ('effort', 'reading', 'mark') AND (c.seq IS NULL OR NOT c.undone)
"""


def upgrade() -> None:
    """Make it so."""
    _tables()
    op.execute(_PRESENT)
    if op.get_bind().dialect.name == "sqlite":
        _guard_sqlite()
    else:
        _guard_postgres()


def _tables() -> None:
    number = sa.BigInteger().with_variant(sa.Integer, "sqlite")
    text, whole = sa.Text, sa.Integer
    op.create_table(
        "event",
        sa.Column("seq", number, primary_key=True, autoincrement=False),
        sa.Column("token", text, nullable=False, unique=True),
        sa.Column("kind", text, nullable=False),
        *(sa.Column(name, text) for name in ("participant", "visit")),
        sa.Column("number", whole),
        sa.Column("step", text),
        sa.Column("at_s", whole),
        sa.Column("manoeuvre", text),
        sa.Column("effort", whole),
        *(sa.Column(name, text) for name in ("reading", "started")),
        *(sa.Column(name, text, nullable=False) for name in ("who", "who_how", "station")),
        sa.Column("device_clock", text),
        sa.Column("server_clock", text, nullable=False),
        sa.Column("plan_version", whole),
        sa.Column("corrects", number),
        sa.Column("undone", sa.Boolean, nullable=False),
        *(sa.Column(name, text, nullable=False) for name in ("digest", "hash_before", "hash")),
    )
    op.create_index("event_visit", "event", ["participant", "visit"])
    op.create_index("event_corrects", "event", ["corrects"])
    op.create_index("event_kind", "event", ["kind"])
    op.create_table(
        "content",
        sa.Column("seq", number, sa.ForeignKey("event.seq"), primary_key=True, autoincrement=False),
        *(sa.Column(name, text) for name in ("salt", "value", "unit")),
        sa.Column("acceptable", sa.Boolean),
        *(sa.Column(name, text) for name in ("note", "reason", "raw")),
    )
    op.create_table(
        "removed",
        sa.Column("seq", number, sa.ForeignKey("event.seq"), primary_key=True, autoincrement=False),
        sa.Column("by_event", number, sa.ForeignKey("event.seq"), nullable=False),
    )
    op.create_table(
        "about", sa.Column("name", text, primary_key=True), sa.Column("value", text, nullable=False)
    )


_BLANK = """NEW.seq = OLD.seq AND NEW.salt IS NULL AND NEW.value IS NULL AND NEW.unit IS NULL
    AND NEW.acceptable IS NULL AND NEW.note IS NULL AND NEW.reason IS NULL AND NEW.raw IS NULL
    AND EXISTS (SELECT 1 FROM removed r JOIN event e ON e.seq = r.by_event
                WHERE r.seq = OLD.seq AND e.kind = 'removal')"""


def _guard_sqlite() -> None:
    """No row changes; content may be blanked, and only where a removal event names it."""
    for table in ("event", "content", "removed", "about"):
        for deed in ("UPDATE", "DELETE"):
            allowed = f"WHEN NOT ({_BLANK})" if (table, deed) == ("content", "UPDATE") else ""
            op.execute(
                f"CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table} {allowed} "
                f"BEGIN SELECT RAISE(ABORT, '{_NEVER}'); END"
            )


def _guard_postgres() -> None:
    """The same on PostgreSQL, TRUNCATE included."""
    op.execute(
        "CREATE FUNCTION never_changed() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_NEVER}'; END $$"
    )
    op.execute(
        "CREATE FUNCTION blanked_only() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        f"IF {_BLANK} THEN RETURN NEW; END IF; RAISE EXCEPTION '{_NEVER}'; END $$"
    )
    for table in ("event", "content", "removed", "about"):
        deeds = "DELETE" if table == "content" else "UPDATE OR DELETE"
        op.execute(
            f"CREATE TRIGGER {table}_no_change BEFORE {deeds} ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION never_changed()"
        )
        op.execute(
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION never_changed()"
        )
    op.execute(
        "CREATE TRIGGER content_blanked_only BEFORE UPDATE ON content "
        "FOR EACH ROW EXECUTE FUNCTION blanked_only()"
    )
