"""Events tell which device was used; the view of the present tells it too."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

_PRESENT = """
CREATE VIEW present_line AS
SELECT e.seq, coalesce(c.seq, e.seq) AS as_of, e.kind, e.participant, e.visit, e.number, e.step, e.at_s,
       e.manoeuvre, e.effort, e.reading, coalesce(c.started, e.started) AS started, e.who, e.station,
       e.device_clock, e.server_clock, e.plan_version,
       CASE WHEN c.seq IS NULL THEN ec.value ELSE cc.value END AS value,
       CASE WHEN c.seq IS NULL THEN ec.unit ELSE cc.unit END AS unit,
       CASE WHEN c.seq IS NULL THEN ec.acceptable ELSE cc.acceptable END AS acceptable,
       CASE WHEN c.seq IS NULL THEN ec.note ELSE cc.note END AS note,
       CASE WHEN c.seq IS NULL THEN ec.salt IS NULL ELSE cc.salt IS NULL END AS blanked,
       CASE WHEN c.seq IS NULL THEN e.rig ELSE c.rig END AS rig
FROM event e
LEFT JOIN (SELECT corrects, max(seq) AS seq FROM event WHERE corrects IS NOT NULL GROUP BY corrects) AS latest
       ON latest.corrects = e.seq
LEFT JOIN event c ON c.seq = latest.seq
LEFT JOIN content ec ON ec.seq = e.seq
LEFT JOIN content cc ON cc.seq = c.seq
WHERE e.kind IN ('effort', 'reading', 'mark') AND (c.seq IS NULL OR NOT c.undone)
"""


def upgrade() -> None:
    """Make it so; recorded events have no device, and stay as they are."""
    op.execute("DROP VIEW present_line")
    op.add_column("event", sa.Column("rig", sa.Text))
    op.execute(_PRESENT)
