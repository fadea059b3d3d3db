"""The tables that the migrations make are those that the code names."""

from __future__ import annotations

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from planner.record import engine as engines
from planner.record.engine import HEAD, migrate, sqlite_engine, version
from planner.record.store import open_store
from planner.record.tables import metadata


def test_migrations_and_tables_agree(store):
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []


def test_the_newest_migration_is_the_one_the_code_expects():
    folder = engines.Path(engines.__file__).parent / "migrations"
    assert ScriptDirectory(str(folder)).get_current_head() == HEAD


def test_migrating_again_changes_nothing(study, take, two_efforts):
    with open_store(study) as store:
        take(store, two_efforts)
        migrate(store.engine)
        assert version(store.engine) == HEAD
        assert len(store.happened().efforts) == 2


def test_sqlite_is_set_to_keep_what_it_acknowledges(study):
    """synchronous 2 is FULL (SQLite's documentation, from memory)."""
    engine = sqlite_engine(study.folder / "x.sqlite3")
    with engine.connect() as connection:
        for pragma, value in (("journal_mode", "wal"), ("synchronous", 2), ("recursive_triggers", 1),
                              ("foreign_keys", 1), ("secure_delete", 1)):  # fmt: skip
            assert connection.exec_driver_sql(f"PRAGMA {pragma}").scalar() == value, pragma
    engine.dispose()


def test_a_record_of_a_newer_version_is_refused(study, monkeypatch):
    import pytest

    from planner.record.troubles import RecordTrouble

    open_store(study).close()
    monkeypatch.setattr(engines, "HEAD", "0000")
    with pytest.raises(RecordTrouble, match="a newer version of this tool made the record"):
        open_store(study)
