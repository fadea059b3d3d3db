"""An export is complete, explained, and safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import stat
from dataclasses import replace
from pathlib import Path

from planner.record.dictionary import EVENT_COLUMNS
from planner.record.efforts_file import read_efforts, safe
from planner.record.events import Content, Draft, Kind, content_digest, event_hash
from planner.record.export import export
from planner.record.tables import event_of, events_query


def rows(path: Path) -> list[dict[str, str]]:
    with open(path, encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_efforts_read_back_to_the_same_record(store, take, two_efforts, tmp_path):
    take(store, two_efforts)
    export(store, tmp_path / "out")
    assert store.take(read_efforts(tmp_path / "out" / "efforts.csv", store.study)).already_there == 5


def test_a_kind_of_visit_that_has_another_name_by_now_is_written_as_it_was_recorded(
    store, take, two_efforts, tmp_path
):
    take(store, two_efforts)
    named = {row["visit"] for row in rows(export(store, tmp_path / "before")[0])}
    kinds = tuple(replace(kind, id=f"{kind.id}-new") for kind in store.study.kinds)
    asked = {
        who: tuple(replace(visit, kind=f"{visit.kind}-new") for visit in visits)
        for who, visits in store.study.asked.items()
    }
    renamed = replace(store, study=replace(store.study, kinds=kinds, asked=asked))
    files = {file.name: file for file in export(renamed, tmp_path / "after", conditions=True)}
    assert {row["visit"] for row in rows(files["efforts.csv"])} == named


def test_every_event_is_there_with_everything(store, take, two_efforts, tmp_path):
    take(store, two_efforts)
    take(store, two_efforts.replace("4.70", "x"))
    export(store, tmp_path / "out")
    events = rows(tmp_path / "out" / "events.csv")
    assert [int(row["seq"]) for row in events] == list(range(1, 7))
    assert {row["who"] for row in events} == {"K1"}
    assert events[2]["value"] == "4.70"
    assert "is not a number" in events[5]["reason"]


def test_the_dictionary_explains_every_column_of_every_file(store, take, two_efforts, tmp_path):
    take(store, two_efforts)
    files = export(store, tmp_path / "out", conditions=True)
    explained = [(row["file"], row["column"]) for row in rows(tmp_path / "out" / "dictionary.csv")]
    assert len(explained) == len(set(explained))
    written = [(file.name, column) for file in files[:-1] for column in rows(file)[0]]
    assert explained == written
    meaning = {row["column"]: row["meaning"] for row in rows(tmp_path / "out" / "dictionary.csv")}
    assert all(
        str(kind) in next(r["meaning"] for r in rows(files[-1]) if r["column"] == "kind") for kind in Kind
    )
    assert "Pacific/Chatham" in next(r["meaning"] for r in rows(files[-1]) if r["column"] == "started")
    assert all(meaning.values())


def test_conditions_are_written_only_where_asked_for(store, take, two_efforts, tmp_path):
    take(store, two_efforts)
    plain = export(store, tmp_path / "blind")
    assert not any("cold air" in file.read_text() for file in plain)
    export(store, tmp_path / "open", conditions=True)
    assert {row["condition"] for row in rows(tmp_path / "open" / "visits.csv")} == {
        "",
        "mild air",
        "cold air",
    }


def test_text_that_looks_like_a_formula_is_made_harmless(store, take, two_efforts, tmp_path):
    """Common practice against formula injection, no source: a leading apostrophe."""
    take(store, two_efforts.replace("cough", "'=HYPERLINK(0)"))
    export(store, tmp_path / "out")
    notes = [row["note"] for file in ("efforts.csv", "events.csv") for row in rows(tmp_path / "out" / file)]
    assert [note for note in notes if note] == ["'=HYPERLINK(0)"] * 2


NASTY = ("a,b", 'says "no"', "two\r\nlines", "\x1f", "'", "''=1", "-5 %", "\tx", "é, ü", "plain")


def test_any_text_is_read_back_as_it_was_said(store, tmp_path):
    for note in NASTY:
        store.append(
            [Draft(Kind.NOTE, participant="ROW-01", content=Content(note=note, reason=note, raw=note))]
        )
    export(store, tmp_path / "out")
    events = rows(tmp_path / "out" / "events.csv")
    assert [row["note"] for row in events] == [safe(note) for note in NASTY]
    assert [row["reason"] for row in events] == [safe(note) for note in NASTY]
    assert [row["raw"] for row in events] == list(NASTY)
    assert all(None not in row and None not in row.values() for row in events)


def test_an_efforts_bare_line_stands_only_where_nothing_else_tells_of_it(store, take, tmp_path):
    head = "participant,visit,step,at,manoeuvre,effort,started,reading,value,unit,acceptable,note\n"
    at = "2027-03-01T09:0"
    take(store, head + f"ROW-01,rowing/1,before,,fvc,1,{at}0:00,,,,,\n"
         f"ROW-01,rowing/1,before,,fvc,1,{at}0:00,FVC,4.80,L,,\n"
         f"ROW-01,rowing/1,before,,fvc,2,{at}1:00,,,,,\n"
         f"ROW-01,rowing/1,before,,fvc,3,{at}2:00,,,,,cough\n"
         f"ROW-01,rowing/1,before,,fvc,3,{at}2:00,FVC,4.70,L,no,\n")  # fmt: skip
    export(store, tmp_path / "out")
    found = rows(tmp_path / "out" / "efforts.csv")
    told = [(row["effort"], row["reading"], row["acceptable"], row["note"]) for row in found]
    assert told == [
        ("1", "FVC", "yes", ""), ("2", "", "", ""), ("3", "", "", "cough"), ("3", "FVC", "no", ""),
    ]  # fmt: skip


def test_files_are_for_their_owner_alone(store, tmp_path):
    for file in export(store, tmp_path / "out"):
        assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_the_chain_can_be_counted_anew_from_the_export_alone(store, take, two_efforts, tmp_path):
    """By the dictionary's words: what an auditor would do with another tool."""
    take(store, two_efforts)
    export(store, tmp_path / "out")
    before = "0" * 64
    for row, found in zip(rows(tmp_path / "out" / "events.csv"), store.read(events_query()), strict=True):
        made = event_of(found)
        assert row["hash_before"] == before
        assert row["digest"] == content_digest(row["salt"], made.draft.content)
        assert row["hash"] == event_hash(made.seq, made.draft, row["server_clock"], row["digest"], before)
        before = row["hash"]


def test_columns_of_events_are_all_the_tables_hold():
    from planner.record.tables import content, event

    held = {column.name for table in (event, content) for column in table.columns}
    assert held | {"blanked"} == set(EVENT_COLUMNS)
