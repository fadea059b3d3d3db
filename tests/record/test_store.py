"""The record only grows: on SQLite and PostgreSQL alike."""

from __future__ import annotations

import stat
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from planner.record.chain import check
from planner.record.effort import VisitKey
from planner.record.efforts_file import read_efforts, write_efforts
from planner.record.events import Kind
from planner.record.lines import Line
from planner.record.store import Store, open_recorded, open_store
from planner.record.tables import event, events_query
from planner.study.model import Study

HEAD = "participant,visit,step,at,manoeuvre,effort,started,reading,value,unit,acceptable,note\n"


def line(store: Store, **changes: object) -> Line:
    started = datetime(2027, 3, 1, 9, 0, tzinfo=store.study.zone)
    plain = Line(
        VisitKey("ROW-01", "rowing", 1), "before", None, "fvc", 1, "FVC", started, Decimal("4.80"), "L"
    )
    return replace(plain, **changes)


def test_a_file_sent_twice_is_kept_once(store: Store, take, two_efforts):
    assert take(store, two_efforts).as_json() == {"added": 5, "already_there": 0, "refused": []}
    assert take(store, two_efforts).as_json() == {"added": 0, "already_there": 5, "refused": []}
    assert check(store) == ()


def test_lines_become_efforts_and_marks(store: Store, take, two_efforts):
    take(store, two_efforts)
    happened = store.happened()
    first, second = happened.efforts
    assert [value.value for value in first.values] == [Decimal("4.80"), Decimal("3.90")]
    assert (second.number, second.note, second.values[0].acceptable) == (2, "cough", False)
    assert [(mark.step, mark.what) for mark in happened.marks] == [("row", "start"), ("row", "end")]
    assert first.started.isoformat() == "2027-03-01T09:00:00+13:45"
    assert not happened.rehearsed


def test_the_same_number_in_another_spelling_is_the_same(store: Store, take, two_efforts):
    take(store, two_efforts)
    again = two_efforts.replace("4.80", "4.8").replace("FEV1,3.90,L,yes", "FEV1,3.90,L,")
    assert take(store, again).already_there == 5


def test_other_content_under_the_same_key_is_refused_and_kept(store: Store, take, two_efforts):
    take(store, two_efforts)
    taken = take(store, two_efforts.replace("4.70", "4.75"))
    assert (taken.added, taken.already_there) == (0, 4)
    assert [(one.row, "correction" in one.message) for one in taken.refused] == [(3, True)]
    kept = store.read(events_query().where(event.c.kind == str(Kind.REFUSED)))
    assert len(kept) == 1
    assert "4.75" in kept[0].raw
    assert "correction" in kept[0].reason


def test_a_refused_row_sent_twice_is_kept_once(store: Store, take):
    for _ in range(2):
        assert len(take(store, HEAD + "ROW-99,practice,welcome,,,,2027-03-01T09:00,start,,,,\n").refused) == 1
    assert len(store.read(events_query().where(event.c.kind == str(Kind.REFUSED)))) == 1


def test_lines_of_one_effort_with_different_starts_are_refused(store: Store, take, two_efforts):
    text = two_efforts.replace("2027-03-01T09:00:00,FEV1", "2027-03-01T09:00:01,FEV1")
    assert [one.row for one in take(store, text).refused] == [1, 2]
    take(store, two_efforts)
    other = HEAD + "ROW-01,rowing/1,before,,fvc,1,2027-03-01T09:00:07,,,,,\n"
    taken = take(store, other)
    assert "09:00:00" in taken.refused[0].message
    assert "09:00:07" in taken.refused[0].message


def test_an_end_before_its_start_is_refused(store: Store, take, two_efforts):
    taken = take(store, two_efforts.replace("T09:32:00,end", "T09:19:59,end"))
    assert [one.row for one in taken.refused] == [5]
    assert "before it starts" in taken.refused[0].message


@pytest.mark.parametrize("rehearsed", [False, True])
def test_rehearsed_and_real_never_mix(opened, rehearsed: bool, take):
    store = opened(rehearsed=rehearsed)
    real = line(store)
    made_up = line(store, effort=2, note="rehearsed")
    taken = store.take([replace(real, row=1), replace(made_up, row=2)])
    assert taken.added == 1
    assert [one.row for one in taken.refused] == [1 if rehearsed else 2]
    assert store.happened().rehearsed is rehearsed
    other = opened(rehearsed=not rehearsed)
    assert other.is_empty()


@pytest.mark.parametrize("deed", ["UPDATE event SET who = 'K9'", "DELETE FROM event", "DELETE FROM content",
                                  "UPDATE content SET value = '9'",
                                  "UPDATE content SET salt = NULL, value = NULL, unit = NULL, "
                                  "acceptable = NULL, note = NULL, reason = NULL, raw = NULL",
                                  "DELETE FROM removed", "UPDATE about SET value = 'x'"])  # fmt: skip
def test_nothing_is_changed_or_deleted(store: Store, deed: str, take, two_efforts):
    take(store, two_efforts)
    with store.engine.begin() as connection:
        connection.execute(sa.text("INSERT INTO removed VALUES (1, 2)"))
    with pytest.raises(DBAPIError), store.engine.begin() as connection:
        connection.execute(sa.text(deed))
    assert check(store) == ()
    assert len(store.happened().efforts) == 2


def test_nothing_is_replaced_on_sqlite(study: Study, take, two_efforts):
    with open_store(study) as store:
        take(store, two_efforts)
        for table in ("event", "content"):
            words = f"INSERT OR REPLACE INTO {table} SELECT * FROM {table} WHERE seq = 1"
            with pytest.raises(DBAPIError, match="never changed"), store.engine.begin() as connection:
                connection.execute(sa.text(words))
        assert check(store) == ()


@pytest.mark.postgres
def test_the_app_owns_nothing_and_may_only_add(pg_study: Study, postgres, take, two_efforts):
    """Also not what triggers alone would forbid: emptying, dropping, taking triggers off."""
    with open_store(pg_study, url=postgres.app) as store:
        take(store, two_efforts)
        for deed in (
            "TRUNCATE event CASCADE", "DROP TABLE event CASCADE", "ALTER TABLE event DISABLE TRIGGER ALL",
            "CREATE TABLE mine (x int)", "SET session_replication_role = replica",
            "CREATE OR REPLACE FUNCTION never_changed() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RETURN NULL; END $$",
        ):  # fmt: skip
            with pytest.raises(DBAPIError), store.engine.begin() as connection:
                connection.execute(sa.text(deed))
        granted = sa.text(
            "SELECT DISTINCT privilege_type FROM information_schema.role_table_grants "
            "WHERE grantee = 'app' AND table_name IN ('event', 'content', 'removed', 'about')"
        )
        assert {row.privilege_type for row in store.read(granted)} == {"SELECT", "INSERT"}
        owned = sa.text("SELECT count(*) AS n FROM pg_class WHERE pg_get_userbyid(relowner) = 'app'")
        assert store.read(owned)[0].n == 0


@pytest.mark.postgres
@pytest.mark.parametrize(
    "deed", ["UPDATE event SET who = 'K9'", "DELETE FROM event", "TRUNCATE event CASCADE"]
)
def test_even_the_owner_is_refused_by_the_triggers(pg_study: Study, postgres, deed: str, take, two_efforts):
    from planner.record.engine import postgres_engine, schema_name

    with open_store(pg_study, url=postgres.app) as store:
        take(store, two_efforts)
        engine = postgres_engine(postgres.owner, schema_name(pg_study, rehearsed=False))
        with pytest.raises(DBAPIError, match="never changed"), engine.begin() as connection:
            connection.execute(sa.text(deed))
        engine.dispose()
        assert check(store) == ()


def test_the_files_are_for_their_owner_alone(study: Study, take, two_efforts):
    with open_store(study) as store:
        take(store, two_efforts)
        for file in (study.folder / ".testday").iterdir():
            assert stat.S_IMODE(file.stat().st_mode) & 0o077 == 0, file.name
    assert stat.S_IMODE((study.folder / ".testday").stat().st_mode) == 0o700


def test_open_recorded_takes_the_rehearsal_only_where_nothing_real_stands(opened, monkeypatch, take):
    rehearsal = opened(rehearsed=True)
    if rehearsal.path is None:
        monkeypatch.setenv("TESTDAY_RECORD_URL", rehearsal.engine.url.render_as_string(hide_password=False))
    rehearsal.take([line(rehearsal, note="rehearsed")])
    with open_recorded(rehearsal.study) as found:
        assert found.rehearsed
    real = opened()
    real.take([line(real)])
    with open_recorded(real.study) as found:
        assert not found.rehearsed


def test_what_is_written_reads_back_to_the_same(store: Store, take, two_efforts):
    take(store, two_efforts.replace("cough", "'=1+1"))
    out = store.study.folder / "out.csv"
    assert write_efforts(out, store.happened(), store.study) == 5
    assert "'=1+1" in out.read_text()
    assert store.happened().efforts[1].note == "=1+1"
    assert store.take(read_efforts(out, store.study)).already_there == 5
