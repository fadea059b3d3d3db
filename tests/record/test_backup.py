"""Backup and restore while in use: whole copies, nothing lost from the record they are put into."""

from __future__ import annotations

import os
import sqlite3
import stat
import threading
from contextlib import closing

import pytest

from planner.record.access import Actor, Role
from planner.record.backup import backup, restore
from planner.record.chain import check
from planner.record.store import open_store
from planner.record.troubles import RecordTrouble

BY = Actor("K9", Role.COORDINATOR)


def test_a_backup_holds_everything_and_is_noted(store, take, two_efforts, tmp_path):
    take(store, two_efforts)
    made = backup(store, tmp_path / "copy.sqlite3", by=BY)
    assert (made.events, made.file.name) == (5, "copy.sqlite3")
    assert stat.S_IMODE(made.file.stat().st_mode) == 0o600
    assert [file.name for file in tmp_path.glob("copy*")] == ["copy.sqlite3"]
    assert store.read(last_event())[0].kind == "backup"


def last_event():
    from planner.record.tables import event, events_query

    return events_query().order_by(None).order_by(event.c.seq.desc()).limit(1)


@pytest.mark.parametrize("name", ["new-folder", "new-folder/copy.sqlite3"])
def test_a_folder_that_is_not_there_is_named(store, tmp_path, name: str):
    with pytest.raises(RecordTrouble, match=r"no folder .*new-folder.*Make it first"):
        backup(store, tmp_path / name, by=BY)
    assert not (tmp_path / "new-folder").exists()


def test_a_backup_restores_into_an_empty_record(opened, study, take, two_efforts, tmp_path):
    store = opened()
    take(store, two_efforts)
    made = backup(store, tmp_path / "copy.sqlite3", by=BY)
    fresh_folder = tmp_path / "fresh"
    fresh_folder.mkdir()
    from dataclasses import replace

    with open_store(replace(study, folder=fresh_folder)) as fresh:
        assert restore(fresh, made.file, by=BY).events == 5
        assert fresh.happened() == store.happened()
        assert check(fresh) == ()
        assert take(fresh, two_efforts).already_there == 5


@pytest.mark.postgres
def test_a_backup_restores_into_an_empty_database(study, take, two_efforts, tmp_path, pg_study, postgres):
    with open_store(study) as store:
        take(store, two_efforts)
        made = backup(store, tmp_path / "copy.sqlite3", by=BY)
        with open_store(pg_study, url=postgres.app) as fresh:
            restore(fresh, made.file, by=BY)
            assert fresh.happened() == store.happened()
            assert check(fresh) == ()
            with pytest.raises(RecordTrouble, match="is not empty"):
                restore(fresh, made.file, by=BY)


def test_restoring_over_newer_events_is_refused_unless_meant(study, take, two_efforts, tmp_path):
    with open_store(study) as store:
        take(store, two_efforts)
        made = backup(store, tmp_path / "copy.sqlite3", by=BY)
        take(store, two_efforts.replace("ROW-01", "ROW-02"))
        with pytest.raises(RecordTrouble, match="the record holds 6 events that the backup lacks"):
            restore(store, made.file, by=BY)
        assert len(store.happened().efforts) == 4
        back = restore(store, made.file, by=BY, anyway=True)
        assert len(store.happened().efforts) == 2
        assert check(store) == ()
        assert back.kept is not None
        assert stat.S_IMODE(back.kept.stat().st_mode) == 0o600
        os.replace(back.kept, store.path.with_name("seen.sqlite3"))
    with open_store(study) as store:
        restore(store, store.path.with_name("seen.sqlite3"), by=BY, anyway=True)
        assert len(store.happened().efforts) == 4


def test_other_programs_that_have_it_open_see_the_restored_record(study, take, two_efforts, tmp_path):
    with open_store(study) as one, open_store(study) as other:
        take(one, two_efforts)
        made = backup(one, tmp_path / "copy.sqlite3", by=BY)
        take(other, two_efforts.replace("ROW-01", "ROW-02"))
        restore(one, made.file, by=BY, anyway=True)
        assert len(other.happened().efforts) == 2
        assert take(other, two_efforts.replace("ROW-01", "ROW-02")).added == 5
        assert check(one) == ()


def test_backups_while_others_record_are_whole(opened, take, two_efforts, tmp_path):
    store, other = opened(), opened()
    done = threading.Event()

    def keep_recording() -> None:
        for effort in range(1, 200):
            if done.is_set():
                return
            take(other, two_efforts.replace(",fvc,1,", f",fvc,{1 + effort % 5},").replace("ROW-01", "ROW-02"))

    thread = threading.Thread(target=keep_recording)
    thread.start()
    try:
        for number in range(5):
            backup(store, tmp_path / f"copy-{number}.sqlite3", by=BY)  # which checks the copy's chain
    finally:
        done.set()
        thread.join(30)
    assert check(store) == ()


def test_a_damaged_or_foreign_copy_is_not_restored(study, take, two_efforts, tmp_path):
    with open_store(study) as store:
        take(store, two_efforts)
        made = backup(store, tmp_path / "copy.sqlite3", by=BY)
        data = bytearray(made.file.read_bytes())
        at = data.index(b"2027-03-01T09:00:50")
        data[at : at + 4] = b"2026"
        made.file.write_bytes(data)
        with pytest.raises(RecordTrouble, match="the copy is not whole"):
            restore(store, made.file, by=BY)
        (tmp_path / "other.sqlite3").write_bytes(b"nothing of ours" * 50)
        with pytest.raises(RecordTrouble, match="damaged"):
            restore(store, tmp_path / "other.sqlite3", by=BY)
        with pytest.raises(RecordTrouble, match="there is no file"):
            restore(store, tmp_path / "none.sqlite3", by=BY)
        assert len(store.happened().efforts) == 2


ALTERED = (
    "DROP TRIGGER event_no_delete",
    "CREATE TRIGGER more AFTER INSERT ON event BEGIN DELETE FROM content; END",
    "DROP TABLE removed; CREATE VIEW removed AS SELECT 1 AS seq, 1 AS by_event WHERE 0",
    "CREATE TABLE other (name TEXT)",
)


@pytest.mark.parametrize("words", ALTERED)
def test_a_copy_without_its_guards_is_not_restored(study, take, two_efforts, tmp_path, words):
    """Its pages would take the record's place, and nothing would keep what is recorded from then on."""
    with open_store(study) as store:
        take(store, two_efforts)
        copy = backup(store, tmp_path / "copy.sqlite3", by=BY).file
        with closing(sqlite3.connect(copy)) as altered:
            altered.executescript(words)
        with pytest.raises(RecordTrouble, match="guards against changes"):
            restore(store, copy, by=BY, anyway=True)
        assert store.length() == 6
        assert check(store) == ()


@pytest.mark.parametrize("made_by", ["", "CREATE TABLE event (seq INTEGER PRIMARY KEY, hash TEXT)"])
def test_a_file_that_is_no_record_is_not_restored_as_an_empty_one(
    study, take, two_efforts, tmp_path, made_by
):
    with closing(sqlite3.connect(tmp_path / "other.sqlite3")) as other:
        other.executescript(made_by)
    (tmp_path / "other.sqlite3").touch()
    with open_store(study) as store:
        with pytest.raises(RecordTrouble, match="no backup of a record"):
            restore(store, tmp_path / "other.sqlite3", by=BY, anyway=True)
        take(store, two_efforts)
        assert store.length() == 5


def test_a_rehearsal_is_never_restored_into_the_record(study, take, two_efforts, tmp_path):
    with open_store(study, rehearsed=True) as rehearsal:
        made = backup(rehearsal, tmp_path / "copy.sqlite3", by=BY)
    with open_store(study) as store, pytest.raises(RecordTrouble, match="this record is rehearsed"):
        restore(store, made.file, by=BY)


def test_what_a_killed_copy_left_behind_goes_with_the_next(store, tmp_path):
    left = store.study.folder / ".testday" / "copy-00ff.part-wal"
    left.write_text("readings")
    backup(store, tmp_path / "copy.sqlite3", by=BY)
    assert not left.exists()
    assert not list(left.parent.glob("copy-*"))


def test_an_existing_file_is_not_overwritten(store, tmp_path):
    (tmp_path / "copy.sqlite3").write_text("mine")
    with pytest.raises(RecordTrouble, match=r"there is a file copy\.sqlite3 already"):
        backup(store, tmp_path / "copy.sqlite3", by=BY)


def test_restoring_takes_a_coordinator(store, tmp_path):
    with pytest.raises(RecordTrouble, match="a technician may not restore"):
        restore(store, tmp_path / "copy.sqlite3", by=Actor("K1", Role.TECHNICIAN))
