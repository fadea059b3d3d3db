"""What is tried so that the first effort is quick leaves no trace, on SQLite and PostgreSQL alike."""

from __future__ import annotations

import pytest
import sqlalchemy as sa

from planner.record.chain import check
from planner.record.store import Store
from planner.record.tables import event, events_query
from planner.record.writer import Writer


def test_nothing_of_it_is_recorded(store: Store, take, two_efforts):
    store.prepare()
    assert store.read(events_query()) == []
    assert not store.writer.head.exists()
    take(store, two_efforts)
    before, head = store.read(events_query()), store.writer.head.read_text()
    store.prepare()
    assert store.read(events_query()) == before
    assert store.writer.head.read_text() == head
    assert check(store) == ()


def test_it_tries_each_statement_that_a_first_effort_needs(store: Store, take, two_efforts):
    """All that the first effort asks for has been asked before."""
    said: list[str] = []
    sa.event.listen(store.engine, "before_cursor_execute", lambda *call: said.append(call[2]))
    store.prepare()
    tried = set(said)
    if store.path is None:  # in the driver's own words there: what is bound to the record is asked through it
        assert store.engine.pool.checkedin() == 1  # type: ignore[attr-defined]
        return
    said.clear()
    take(store, two_efforts.split("\n", 2)[0] + "\n" + two_efforts.split("\n", 2)[1] + "\n")
    assert store.length() == 1
    inserts = {one for one in said if one.startswith("INSERT")}
    assert inserts
    assert inserts <= tried


def test_where_somebody_records_it_is_left_at_that(store: Store):
    other = Writer(store.engine, store.writer.lock.parent, rehearsed=store.rehearsed)
    with other.alone():
        store.prepare()
    assert store.length() == 0


def test_trouble_is_told_when_something_is_recorded_and_not_before(store: Store, monkeypatch):
    def broken(*_: object, **__: object) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr("planner.record.prepare.append", broken)
    store.prepare()
    with store.engine.connect() as connection:
        assert connection.execute(sa.select(sa.func.count()).select_from(event)).scalar() == 0


@pytest.mark.parametrize("rehearsed", [False, True])
def test_both_kinds_of_record_are_prepared(opened, rehearsed: bool):
    store = opened(rehearsed=rehearsed)
    store.prepare()
    assert store.length() == 0
