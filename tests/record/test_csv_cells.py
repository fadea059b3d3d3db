"""Rows that the database joins are the rows that Python's own CSV writer would have written."""

from __future__ import annotations

import csv
import io

import sqlalchemy as sa
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.record.csv_cells import Joint, plain
from planner.record.efforts_file import safe

SOME = sa.Table(
    "some", sa.MetaData(), sa.Column("place", sa.Integer, primary_key=True), sa.Column("one", sa.Text),
    sa.Column("n", sa.Integer), sa.Column("other", sa.Text),
)  # fmt: skip
ODD = st.text(st.sampled_from("ab,\"\r\n'=+-@\t\x1fé "), max_size=8)


@settings(max_examples=100, deadline=None)
@given(
    st.lists(
        st.tuples(st.none() | ODD, st.none() | st.integers(-(2**63), 2**63 - 1), st.none() | ODD), min_size=1
    )
)
def test_as_pythons_csv_writer_writes_them(rows):
    joint, expected = Joint(free=[0, 2]), io.StringIO()
    writer = csv.writer(expected, lineterminator="\r\n")
    writer.writerows((safe(one or ""), "" if n is None else n, safe(other or "")) for one, n, other in rows)
    query = sa.select(joint.join([plain(SOME.c.one), plain(SOME.c.n), plain(SOME.c.other)])).order_by(
        SOME.c.place
    )
    with sa.create_engine("sqlite://").connect() as connection:
        SOME.create(connection)
        connection.execute(
            sa.insert(SOME), [dict(zip(("one", "n", "other"), row, strict=True)) for row in rows]
        )
        found = [joint.as_csv(row) for row in connection.execute(query).scalars()]
    assert "".join(f"{line}\r\n" for line in found) == expected.getvalue()
