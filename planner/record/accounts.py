"""PostgreSQL: the owner sets the record up; the app's account may read and add, and nothing else."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from planner.record.caught import CAUGHT
from planner.record.engine import HEAD, mark_kind, migrate, postgres_engine, schema_name, version
from planner.record.troubles import RecordTrouble, in_words
from planner.study.model import Study

_TABLES = ("event", "content", "removed", "about")


def postgres_store_engine(url: str, schema: str) -> Engine:
    """An engine for the app's account; RecordTrouble where no owner has set the record up."""
    engine = postgres_engine(url, schema)
    try:
        found = version(engine)
    except CAUGHT as error:
        raise in_words(error) from error
    if found != HEAD:
        what = "is not set up" if found is None else "was made by another version of this tool"
        hint = "Whoever owns the database runs the set-up once: testday set-up-database STUDY."
        raise RecordTrouble("not-set-up", f"the record in this database {what}", hint)
    return engine


def set_up(study: Study, owner_url: str, account: str) -> None:
    """Make or migrate the study's two records in PostgreSQL and let `account` read and add.

    `owner_url` is an account that may create schemas and is not `account`. Sent again, it changes nothing.
    """
    for rehearsed in (False, True):
        schema = schema_name(study, rehearsed=rehearsed)
        engine = postgres_engine(owner_url, schema)
        try:
            with engine.begin() as connection:
                _refuse_powerful(connection, account)
                connection.execute(sa.schema.CreateSchema(schema, if_not_exists=True))
            migrate(engine)
            mark_kind(engine, rehearsed=rehearsed)
            with engine.begin() as connection:
                _grant(connection, schema, account)
        except CAUGHT as error:
            raise in_words(error) from error
        finally:
            engine.dispose()


def _refuse_powerful(connection: Connection, account: str) -> None:
    query = sa.text(
        "SELECT rolsuper OR pg_has_role(oid, current_user, 'MEMBER') FROM pg_roles WHERE rolname = :name"
    )
    powerful = connection.execute(query, {"name": account}).scalar()
    if powerful is None:
        raise RecordTrouble(
            "account", f"there is no account {account!r} in this database", "Create it first."
        )
    if powerful:
        raise RecordTrouble(
            "account",
            f"the account {account!r} could change the record: it is an administrator or the owner itself",
            "Name another account for the app.",
        )


def _grant(connection: Connection, schema: str, account: str) -> None:
    quoted = connection.dialect.identifier_preparer.quote
    who, where = quoted(account), quoted(schema)
    tables = ", ".join(f"{where}.{name}" for name in _TABLES)
    for words in (
        f"REVOKE ALL ON ALL TABLES IN SCHEMA {where} FROM PUBLIC, {who}",
        f"REVOKE ALL ON SCHEMA {where} FROM PUBLIC, {who}",
        f"GRANT USAGE ON SCHEMA {where} TO {who}",
        f"GRANT SELECT, INSERT ON {tables} TO {who}",
        f"GRANT SELECT ON {where}.present_line, {where}.alembic_version TO {who}",
    ):
        connection.exec_driver_sql(words)
