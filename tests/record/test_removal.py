"""Withdrawal with erasure: what was said is gone, also from the files; the chain and all else stay."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy.exc import DBAPIError

from planner.record.access import Actor, Role
from planner.record.backup import backup
from planner.record.chain import check
from planner.record.events import Kind
from planner.record.removal import remove
from planner.record.tables import events_query
from planner.record.troubles import RecordTrouble

COORDINATOR = Actor("K9", Role.COORDINATOR, "signed in")
SECRET = "4.8765"


def filled(store, take, two_efforts) -> None:
    """Both participants, a note, and refused rows that name ROW-01 in several ways."""
    mine = two_efforts.replace("4.80", SECRET).replace("cough", "felt unwell")
    take(store, mine)
    take(store, two_efforts.replace("ROW-01", "ROW-02"))
    head, first, *_ = mine.splitlines()
    take(store, f"{head}\n{first.replace(SECRET, SECRET + '1')}\n{first.replace('ROW-01', 'row-01 ')}\n")
    take(store, f"{head}\n{first.replace('ROW-01', 'ROW-99').replace(SECRET, '3.3')}\n")


def test_readings_notes_and_refused_rows_are_blanked(store, take, two_efforts, owner_url):
    filled(store, take, two_efforts)
    before = store.read(events_query())
    done = remove(store, "ROW-01", by=COORDINATOR, reason="consent withdrawn", owner_url=owner_url)
    assert (done.events, done.refused_rows) == (7, 2)
    assert check(store) == ()
    after = store.read(events_query())
    assert [(row.seq, row.hash) for row in after[:-1]] == [(row.seq, row.hash) for row in before]
    mine = [row for row in after if row.participant == "ROW-01" and row.kind != Kind.REMOVAL]
    assert all(row.value is row.note is row.raw is row.salt is None for row in mine)
    happened = store.happened()
    assert {effort.values for effort in happened.efforts if effort.key.participant == "ROW-01"} == {()}
    assert sum(len(effort.values) for effort in happened.efforts if effort.key.participant == "ROW-02") == 3


def test_the_removal_is_an_event_with_who_and_why(store, take, two_efforts, owner_url):
    filled(store, take, two_efforts)
    remove(store, "ROW-01", by=COORDINATOR, reason="consent withdrawn", owner_url=owner_url)
    last = store.read(events_query())[-1]
    assert (last.kind, last.who, last.who_how, last.reason) == (
        "removal",
        "K9",
        "signed in",
        "consent withdrawn",
    )


def test_nothing_is_left_in_the_files(study, take, two_efforts):
    from planner.record.store import open_store

    with open_store(study) as store:
        filled(store, take, two_efforts)
        assert found_in(store.path, SECRET)
        remove(store, "ROW-01", by=COORDINATOR, reason="consent withdrawn")
        assert not found_in(store.path, SECRET)
        assert not found_in(store.path, "felt unwell")


def found_in(path: Path, text: str) -> bool:
    return any(text.encode() in file.read_bytes() for file in path.parent.rglob("*") if file.is_file())


def test_known_backups_are_named(store, take, two_efforts, owner_url, tmp_path):
    filled(store, take, two_efforts)
    made = backup(store, tmp_path, by=COORDINATOR)
    done = remove(store, "ROW-01", by=COORDINATOR, reason="consent withdrawn", owner_url=owner_url)
    assert done.backups == (str(made.file),)


def test_a_second_removal_finds_nothing_more(store, take, two_efforts, owner_url):
    filled(store, take, two_efforts)
    remove(store, "ROW-01", by=COORDINATOR, reason="consent withdrawn", owner_url=owner_url)
    assert remove(store, "ROW-01", by=COORDINATOR, reason="again", owner_url=owner_url).events == 0
    assert check(store) == ()


def test_it_takes_a_coordinator_and_the_refusal_is_recorded(store, take, two_efforts, owner_url):
    filled(store, take, two_efforts)
    for role in (Role.READER, Role.TECHNICIAN):
        with pytest.raises(RecordTrouble, match=f"a {role} may not remove a participant's readings"):
            remove(store, "ROW-01", by=Actor("K1", role), reason="x", owner_url=owner_url)
    denied = [row for row in store.read(events_query()) if row.kind == "denied"]
    assert [(row.who, row.note) for row in denied] == [("K1", "remove a participant's readings")] * 2
    assert any(effort.values for effort in store.happened().efforts)


def test_it_takes_a_reason(store, owner_url):
    with pytest.raises(RecordTrouble, match="needs a reason"):
        remove(store, "ROW-01", by=COORDINATOR, reason=" ", owner_url=owner_url)


def test_what_was_sent_before_the_removal_does_not_come_back(store, take, two_efforts, owner_url):
    """An efforts file still lying about: the keys are known, their content is gone; nothing is taken."""
    filled(store, take, two_efforts)
    remove(store, "ROW-01", by=COORDINATOR, reason="consent withdrawn", owner_url=owner_url)
    taken = take(store, two_efforts)
    assert (taken.added, taken.already_there, len(taken.refused)) == (0, 0, 5)
    assert "has withdrawn" in taken.refused[0].message
    refused = [row for row in store.read(events_query()) if row.kind == Kind.REFUSED]
    kept = [row for row in refused if "withdrawn" in (row.reason or "")]
    assert [row.raw for row in kept] == [""]
    assert SECRET not in str(store.read(events_query()))


@pytest.mark.postgres
def test_the_app_alone_cannot_remove(pg_study, postgres, take, two_efforts):
    import sqlalchemy as sa

    from planner.record.store import open_store

    with open_store(pg_study, url=postgres.app) as store:
        take(store, two_efforts)
        with pytest.raises(RecordTrouble, match="the app's account may not remove anything"):
            remove(store, "ROW-01", by=COORDINATOR, reason="consent withdrawn")
        with pytest.raises(DBAPIError, match="permission denied"), store.engine.begin() as connection:
            connection.execute(sa.text("UPDATE content SET value = NULL"))
