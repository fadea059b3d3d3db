"""Whoever writes to the record by another tool is found out: changed, missing, moved, put in, cut off."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from planner.record.chain import check
from planner.record.events import Content, Draft, Kind, event_hash, seal
from planner.record.store import open_store

ROWS = 5


@pytest.fixture
def file(study, take, two_efforts) -> Path:
    """A record of five events, closed."""
    with open_store(study) as store:
        take(store, two_efforts)
        assert store.path is not None
        return store.path


def forge(file: Path, *deeds: str) -> None:
    """What somebody with another tool can do: take the triggers off and write."""
    with closing(sqlite3.connect(file)) as connection:
        names = [
            row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        ]
        for name in names:
            connection.execute(f"DROP TRIGGER {name}")
        for deed in deeds:
            connection.execute(deed)
        connection.commit()


def problems(study) -> list[str]:
    with open_store(study) as store:
        return [problem.message for problem in check(store)]


COLUMNS = {
    "token": "'x'", "kind": "'note'", "participant": "'ROW-02'", "visit": "'practice'", "number": "2",
    "step": "'sit'", "at_s": "60", "manoeuvre": "'mep'", "effort": "3", "reading": "'FEV1'",
    "started": "'2027-03-01T09:00:01+13:45'", "who": "'K2'", "who_how": "'signed in'", "station": "'x'",
    "device_clock": "'x'", "server_clock": "'2026-01-01T00:00:00.000000+00:00'", "plan_version": "7",
    "corrects": "1", "undone": "1",
}  # fmt: skip


@pytest.mark.parametrize("column", COLUMNS)
def test_a_changed_column_is_found(study, file, column):
    forge(file, f"UPDATE event SET {column} = {COLUMNS[column]} WHERE seq = 3")
    assert problems(study) == ["event 3 was changed or moved"]


@pytest.mark.parametrize("change", ["value = '4.81'", "unit = 'l'", "acceptable = 1", "note = 'no cough'",
                                    "reason = 'x'", "raw = '{}'", "salt = 'x'"])  # fmt: skip
def test_changed_content_is_found(study, file, change):
    forge(file, f"UPDATE content SET {change} WHERE seq = 3")
    assert problems(study) == ["the content of event 3 was changed"]


@pytest.mark.parametrize(("gone", "words"), [
    ((3,), "event 3 is missing before event 4"), ((2, 3), "events 2 to 3 are missing before event 4"),
    ((1,), "event 1 is missing before event 2"),
    ((5,), "event 5 is missing at the end: they were recorded on this machine"),
])  # fmt: skip
def test_missing_events_are_found(study, file, gone, words):
    which = ", ".join(map(str, gone))
    forge(file, f"DELETE FROM event WHERE seq IN ({which})", f"DELETE FROM content WHERE seq IN ({which})")
    assert words in problems(study)


def test_missing_content_is_found(study, file):
    forge(file, "DELETE FROM content WHERE seq = 2")
    assert problems(study) == ["the content of event 2 is gone, and no removal names it"]


def test_blanked_content_that_no_removal_names_is_found(study, file):
    nothing = (
        "salt = NULL, value = NULL, unit = NULL, acceptable = NULL, note = NULL, reason = NULL, raw = NULL"
    )
    forge(file, f"UPDATE content SET {nothing} WHERE seq = 2")
    assert problems(study) == ["the content of event 2 is gone, and no removal names it"]


def test_two_events_that_changed_places_are_found(study, file):
    forge(file, "UPDATE event SET seq = 99 WHERE seq = 2", "UPDATE event SET seq = 2 WHERE seq = 3",
          "UPDATE event SET seq = 3 WHERE seq = 99")  # fmt: skip
    found = problems(study)
    assert "event 2 was changed or moved" in found
    assert "event 3 was changed or moved" in found


def test_an_event_whose_hash_was_made_to_fit_is_found_by_the_next_one(study, file):
    """A careful forger counts the event's own hash anew; the next event still names the old one."""
    with open_store(study) as store:
        from planner.record.tables import event_of, events_query

        third = event_of(store.read(events_query())[2])
    from dataclasses import replace

    forged = replace(third.draft, by="K2")
    digest = event_hash(3, forged, third.server_clock, third.digest, third.hash_before)
    forge(file, f"UPDATE event SET who = 'K2', hash = '{digest}' WHERE seq = 3")
    assert "event 4 does not follow the event before it: one was changed, put in or moved" in problems(study)


def test_a_whole_tail_counted_anew_is_found_by_the_head_noted_beside(study, file):
    """The last event with a fresh, fitting hash: nothing after it disagrees, the noted head does."""
    with open_store(study) as store:
        from dataclasses import replace

        from planner.record.tables import event_of, events_query

        last = event_of(store.read(events_query())[-1])
    forged = replace(last.draft, by="K2")
    digest = event_hash(last.seq, forged, last.server_clock, last.digest, last.hash_before)
    forge(file, f"UPDATE event SET who = 'K2', hash = '{digest}' WHERE seq = {last.seq}")
    assert problems(study) == [f"event {last.seq} is not the one that was recorded under this number"]


def test_the_hash_is_plain_sha_256_of_canonical_json():
    """Anybody can check it with nothing of ours: JSON (RFC 8259), sorted, no spaces; SHA-256."""
    draft = Draft(Kind.NOTE, participant="ROW-01", by="K1", content=Content(note="ü"), token="t")
    made = seal(1, draft, "2027-03-01T00:00:00.000000+00:00", "0" * 64)
    said = {"value": None, "unit": None, "acceptable": None, "note": "ü", "reason": "", "raw": ""}
    text = json.dumps([made.salt, said], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert made.digest == hashlib.sha256(text.encode()).hexdigest()
    place = draft.as_json()
    del place["content"], place["rig"]  # a device is hashed where one is told
    whole = [1, place, made.server_clock, made.digest, "0" * 64]
    text = json.dumps(whole, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert made.hash == hashlib.sha256(text.encode()).hexdigest()
