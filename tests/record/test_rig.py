"""Which device an effort was made on: told where it is known, and older records stand as they were."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from contextlib import closing
from dataclasses import asdict, replace
from datetime import datetime
from decimal import Decimal

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config

from planner.record import engine as engines
from planner.record.access import Actor, Role
from planner.record.actions import TestDay, Typed, correct
from planner.record.backup import backup, restore
from planner.record.chain import check
from planner.record.devices import devices_of
from planner.record.drafts import Hand
from planner.record.efforts_file import COLUMNS, read_efforts, write_efforts
from planner.record.engine import sqlite_engine, version
from planner.record.events import FIRST_HASH, Content, Draft, Kind, content_digest, event_hash
from planner.record.export import export
from planner.record.live import visit_now
from planner.record.rehearse import rehearse
from planner.record.store import open_store
from planner.schedule.model import Activity, PlacedVisit

HEAD_ROW = "participant,visit,step,at,manoeuvre,effort,started,reading,value,unit,acceptable,note,rig\n"
ROW = "ROW-01,rowing/1,before,,fvc,1,2027-03-01T09:00:00,FVC,4.80,L,,,"
OLD = Draft(
    Kind.READING, "ROW-01", "rowing", 1, "before", None, "fvc", 1, "FVC", "2027-03-01T09:00:00-04:00",
    by="K1", by_how="file", content=Content("4.80", "L", True, ""), token="t1",
)  # fmt: skip
OLD_CLOCK = "2027-03-01T13:00:00.000000+00:00"
OLD_DIGEST = "d96bdc80f85f0578fed116d4e98be9310292dd912a6c6be3078a098238583abf"
OLD_HASH = "3c3b6ec44bbc49fd2c7c5e944ce8f4964e74d1f5952576702a6b4eb6d11f0617"


def test_an_event_without_a_device_has_the_hash_that_it_always_had():
    """Digest and hash were written down before events knew of devices."""
    assert content_digest("00" * 16, OLD.content) == OLD_DIGEST
    assert event_hash(1, OLD, OLD_CLOCK, OLD_DIGEST, FIRST_HASH) == OLD_HASH


def test_the_hash_covers_the_device():
    one, other = (
        event_hash(1, replace(OLD, rig=rig), OLD_CLOCK, OLD_DIGEST, FIRST_HASH) for rig in ("S1", "S2")
    )
    assert len({one, other, OLD_HASH}) == 3


def test_a_record_made_before_devices_were_told_opens_whole_and_goes_on(study, take):
    path = engines.database_file(study, rehearsed=False)
    path.parent.mkdir(exist_ok=True)
    _old_record(path)
    with open_store(study) as store:
        assert version(store.engine) == engines.HEAD
        assert check(store) == ()
        (effort,) = store.happened().efforts
        assert (effort.values[0].reading, effort.rig) == ("FVC", None)
        there = ROW.replace("2027-03-01T09:00", "2027-03-02T02:45")  # the same instant in the study's zone
        assert take(store, HEAD_ROW + there + "\n").already_there == 1
        assert take(
            store, HEAD_ROW + there.replace("fvc,1", "fvc,2").replace("02:45", "02:46") + "S1\n"
        ).added
        assert [one.rig for one in store.happened().efforts] == [None, "S1"]
        assert check(store) == ()


def test_a_correction_made_before_devices_were_told_stays_whole_and_can_be_restored(study, tmp_path):
    """Its hash is made here by the rule of then, from the words of the data dictionary."""
    path = engines.database_file(study, rehearsed=False)
    path.parent.mkdir(exist_ok=True)
    _old_record(path)
    said = Content("4.70", "L", True, "", "misread")
    digest = content_digest("11" * 16, said)
    place = asdict(replace(OLD, kind=Kind.CORRECTION, corrects=1, token="t2", content=said))
    del place["content"], place["rig"]
    words = json.dumps([2, place, OLD_CLOCK, digest, OLD_HASH], sort_keys=True, separators=(",", ":"))
    held = (
        2, "t2", "correction", "ROW-01", "rowing", 1, "before", None, "fvc", 1, "FVC", OLD.started, "K1",
        "file", "", None, OLD_CLOCK, None, 1, 0, digest, OLD_HASH, hashlib.sha256(words.encode()).hexdigest(),
    )  # fmt: skip
    with closing(sqlite3.connect(path)) as raw:
        raw.execute(f"INSERT INTO event VALUES ({','.join('?' * len(held))})", held)
        raw.execute("INSERT INTO content VALUES (2, ?, '4.70', 'L', 1, '', 'misread', '')", ("11" * 16,))
        raw.commit()
    with open_store(study) as store:
        assert check(store) == ()
        assert [str(one.value) for one in store.happened().efforts[0].values] == ["4.70"]
        copy = backup(store, tmp_path / "copy.sqlite3", by=Actor("K9", Role.COORDINATOR)).file
        restore(store, copy, by=Actor("K9", Role.COORDINATOR), anyway=True)
        assert check(store) == ()


def _old_record(path) -> None:
    engine = sqlite_engine(path)
    old_record(engine)
    engine.dispose()


def old_record(engine: sa.Engine) -> None:
    """A record as the first version made it, holding one reading; on either database, by the owner."""
    config = Config()
    config.set_main_option("script_location", str(engines.Path(engines.__file__).parent / "migrations"))
    held = (
        1, "t1", "reading", "ROW-01", "rowing", 1, "before", None, "fvc", 1, "FVC", OLD.started, "K1", "file",
        "", None, OLD_CLOCK, None, None, False, OLD_DIGEST, FIRST_HASH, OLD_HASH,
    )  # fmt: skip
    said = (1, "00" * 16, "4.80", "L", True, "", "", "")
    with engine.connect() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.commit()
    with engine.begin() as connection:
        for table, values in (("event", held), ("content", said), ("about", ("kind", "real"))):
            named = {f"v{number}": value for number, value in enumerate(values)}
            places = ", ".join(f":{name}" for name in named)
            connection.execute(sa.text(f"INSERT INTO {table} VALUES ({places})"), named)


def test_the_device_is_read_kept_and_written_back(store, take, tmp_path):
    assert take(store, HEAD_ROW + ROW + "S1\n").added == 1
    assert [one.rig for one in store.happened().efforts] == ["S1"]
    assert "FVC,4.80,L,yes,,S1" in export(store, tmp_path / "out")[0].read_text("utf-8")
    write_efforts(tmp_path / "back.csv", store.happened(), store.study)
    assert store.take(read_efforts(tmp_path / "back.csv", store.study)).already_there == 1


def test_a_file_without_devices_keeps_the_columns_that_it_always_had(store, take, tmp_path):
    take(store, HEAD_ROW + ROW + "\n")
    write_efforts(tmp_path / "back.csv", store.happened(), store.study)
    assert (tmp_path / "back.csv").read_text("utf-8").splitlines()[0] == ",".join(COLUMNS)


def test_a_line_that_names_no_device_says_nothing_against_one_that_does(store, take):
    take(store, HEAD_ROW + ROW + "S1\n")
    assert take(store, HEAD_ROW + ROW + "\n").already_there == 1


def test_another_device_is_other_content(store, take):
    take(store, HEAD_ROW + ROW + "S1\n")
    (refused,) = take(store, HEAD_ROW + ROW + "S2\n").refused
    assert "with other content" in refused.message


def test_several_devices_at_once_are_told_apart_by_a_semicolon(store, take):
    assert take(store, HEAD_ROW + ROW + "S1;M1\n").added == 1
    assert store.happened().efforts[0].rig == "S1;M1"


@pytest.mark.parametrize(("rig", "words"), [
    ("S9", "there is no device 'S9'"), ("S1;", "there is no device ''"), ("=S1", "there is no device '=S1'"),
])  # fmt: skip
def test_an_unknown_device_is_refused_in_words(store, take, rig: str, words: str):
    (refused,) = take(store, HEAD_ROW + ROW + rig + "\n").refused
    assert words in refused.message


def test_the_device_is_corrected_with_a_reason_and_the_first_entry_stays(store, take):
    take(store, HEAD_ROW + ROW + "S1\n")
    assert correct(store, [1], Hand("K1", "picked"), "was on the other one", rig="S2").is_recorded
    assert store.happened().efforts[0].rig == "S2"
    assert correct(store, [1], Hand("K1", "picked"), "again", rig="S2").refused == (
        "the correction changes nothing"
    )
    assert check(store) == ()


@pytest.fixture
def page(store, plans):
    """Looks at the visit as a page does; every device of its plan is the first of its class."""
    visit = store.study.asked["ROW-01"][1]
    plan = plans[visit.protocol]
    first = {one: next(rig.id for rig in store.study.rigs if one in rig.classes)
             for activity in plan.activities for one in activity.rigs}  # fmt: skip
    at = datetime(2027, 3, 2, 9, 0, tzinfo=store.study.zone)
    placed = tuple(
        Activity(a.step, a.at_s, a.manoeuvre, tuple(first[one] for one in a.rigs), {}, at, at, at, at,
                 a.planned_efforts) for a in plan.activities
    )  # fmt: skip
    there = PlacedVisit(visit.participant, visit.kind, visit.number, visit.condition, placed)

    def look(**chosen):
        shown = visit_now(store, visit, plan, there, now=at)
        return shown, TestDay(store, shown, Hand("K1", "picked"), chosen)

    return look


def part_of(shown, step: str, manoeuvre: str | None = None, at_s: int | None = None):
    wanted = (step, manoeuvre, at_s)
    return next(p for p in shown.parts
                if (p.activity.step, p.activity.manoeuvre, p.activity.at_s) == wanted)  # fmt: skip


def test_the_planned_device_is_recorded_unless_another_was_chosen(store, page):
    shown, day = page()
    day.begin(part_of(shown, "row"))
    shown, day = page()
    day.start_effort(part_of(shown, "before", "fvc"))
    shown, day = page(spirometer="S2")  # chosen while that effort is under way: it stays where it was begun
    typed = {"FVC": Typed(Decimal("4.80")), "FEV1": Typed(Decimal("3.90"))}
    day.finish_effort(part_of(shown, "before", "fvc"), 1, typed)
    shown, day = page(spirometer="S2")
    day.start_effort(part_of(shown, "before", "fvc"))
    happened = store.happened()
    assert [one.rig for one in happened.efforts] == ["S1", "S2"]
    assert [mark.rig for mark in happened.marks] == ["E1"]


def test_another_device_goes_on_in_later_parts_without_being_chosen_again(store, page):
    shown, day = page(spirometer="S2")
    day.start_effort(part_of(shown, "before", "fvc"))
    shown, _ = page()
    assert devices_of(shown.parts, part_of(shown, "before", "fvc")) == {"spirometer": "S2"}
    assert devices_of(shown.parts, part_of(shown, "after", "fvc-short", 120)) == {"spirometer": "S2"}
    assert devices_of(shown.parts, part_of(shown, "row")) == {"rowing ergometer": "E1"}


def test_made_up_people_use_the_planned_devices(study, schedule, plans):
    visits = tuple(
        replace(visit, activities=tuple(
            replace(one, rigs=("S1",) if one.manoeuvre == "fvc" else ()) for one in visit.activities))
        for visit in schedule.visits
    )  # fmt: skip
    lines = rehearse(study, replace(schedule, visits=visits), plans, seed=1)
    assert {(line.manoeuvre == "fvc", line.rig) for line in lines} == {(True, "S1"), (False, None)}
