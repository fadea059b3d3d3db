"""Several statements in one trip to a database that is another process: there each trip is a wait.

PostgreSQL's pipeline mode takes them one after the other, each seeing what those before it did, and
answers them together. On SQLite, which is asked within this process, they are simply executed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import lru_cache
from typing import Any, TypeAlias

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Dialect
from sqlalchemy.sql.compiler import SQLCompiler

Values: TypeAlias = Mapping[str, object]


def ask(connection: Connection, queries: Sequence[tuple[sa.Select[Any], Values]]) -> list[Sequence[Any]]:
    """The rows of each query, in order; rows are plain tuples in the order of the query's columns."""
    if connection.dialect.name != "postgresql":
        return [[tuple(row) for row in connection.execute(query, values)] for query, values in queries]
    with _one_trip(connection) as raw:
        cursors = []
        for query, values in queries:
            compiled = _compiled(query, connection.dialect)
            cursors.append(raw.cursor().execute(str(compiled), compiled.construct_params(dict(values))))
    return [cursor.fetchall() for cursor in cursors]


def put(
    connection: Connection, rows: Sequence[tuple[sa.Insert, Sequence[dict[str, Any]]]], *, last: bool = False
) -> None:
    """Insert these rows; each holds every column of its table.

    `last`: nothing more comes in this transaction, so that its end may go with them in the same trip.
    """
    if connection.dialect.name != "postgresql":
        for insert, some in rows:
            connection.execute(insert, list(some))
        return
    with _one_trip(connection) as raw:
        for insert, some in rows:
            raw.cursor().executemany(str(_compiled(insert, connection.dialect)), some)
        if last:
            raw.commit()


@lru_cache(maxsize=128)
def _compiled(statement: sa.Select[Any] | sa.Insert, dialect: Dialect) -> SQLCompiler:
    """The statement in the database's words; callers keep their statements, so that it is made once."""
    return statement.compile(dialect=dialect)


@contextmanager
def _one_trip(connection: Connection) -> Iterator[Any]:
    """The driver's own connection in pipeline mode, its errors as those that all others give."""
    raw: Any = connection.connection.driver_connection
    dialect: Any = connection.dialect
    try:
        with raw.pipeline():
            yield raw
    except dialect.dbapi.Error as error:
        lost = dialect.is_disconnect(error, raw, None)
        if lost:
            connection.invalidate(error)
        raise sa.exc.DBAPIError.instance(
            None, None, error, dialect.dbapi.Error, connection_invalidated=lost, dialect=dialect
        ) from error
