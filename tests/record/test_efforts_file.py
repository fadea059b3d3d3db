"""Efforts files row by row: what is taken, what is refused and in which words, and what is written back."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.clock import zone
from planner.faults import FaultyInput
from planner.record.effort import VisitKey
from planner.record.efforts_file import COLUMNS, local_text, read_efforts, safe, write_efforts
from planner.record.lines import Line
from planner.record.rows import number
from planner.record.store import open_store
from planner.study.model import Study

GOOD = {
    "participant": "ROW-01", "visit": "rowing/1", "step": "before", "at": "", "manoeuvre": "fvc",
    "effort": "1", "started": "2027-03-01T09:00:00", "reading": "FVC", "value": "4.80", "unit": "L",
    "acceptable": "", "note": "",
}  # fmt: skip
AFTER = {"step": "after", "manoeuvre": "fvc-short"}
MARK = {"step": "row", "manoeuvre": "", "effort": "", "reading": "start", "value": "", "unit": ""}


def read(study: Study, *rows: dict[str, str], head: tuple[str, ...] = COLUMNS):
    lines = [",".join(head), *(",".join(quoted(row.get(name, "")) for name in head) for row in rows)]
    path = study.folder / "efforts.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_efforts(path, study)


def quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"' if any(c in text for c in ',"\n') else text


def test_a_good_row(study):
    (line,) = read(study, GOOD).lines
    assert (line.key, line.step, line.at_s) == (VisitKey("ROW-01", "rowing", 1), "before", None)
    assert (line.value, line.unit, line.acceptable, line.row) == (Decimal("4.80"), "L", True, 1)
    assert line.started == datetime(2027, 3, 1, 9, 0, tzinfo=study.zone)


@pytest.mark.parametrize(("change", "words"), [
    ({"participant": "ROW-1"}, "there is no participant 'ROW-1'; did you mean 'ROW-01'?"),
    ({"participant": ""}, "participant is empty"),
    ({"visit": "rowing"}, "there is no visit of ROW-01 'rowing'; did you mean 'rowing/"),
    ({"visit": "rowing/3"}, "there is no visit of ROW-01 'rowing/3'"),
    ({"visit": "rowing/cold air"}, "names the condition of a blind visit; write 'rowing/2' for the second"),
    ({"step": "befor"}, "there is no step 'befor'; did you mean 'before'?"),
    ({"step": ""}, "step is empty"),
    ({"at": "10 min"}, "'fvc' in step 'before' has no time points; leave 'at' empty"),
    (AFTER, "has the time points 2 min, 15 min; write one of them in 'at'"),
    (AFTER | {"at": "3 min"}, "has no time point at '3 min'; it has 2 min, 15 min"),
    (AFTER | {"at": "5:00"}, "'5:00' is not a duration"),
    ({"manoeuvre": "fev"}, "there is no manoeuvre in step 'before' 'fev'"),
    ({"manoeuvre": "fvc-short"}, "there is no manoeuvre in step 'before' 'fvc-short'"),
    ({"effort": "0"}, "'0' is not a whole number from 1"),
    ({"effort": "1.0"}, "'1.0' is not a whole number from 1"),
    ({"effort": "²"}, "is not a whole number from 1"),
    ({"effort": ""}, "effort is empty"),
    ({"effort": "99999999999"}, "is not a whole number from 1"),
    ({"started": "09:00"}, "'09:00' is not a date-time"),
    ({"started": "2027-02-30T09:00"}, "is not a date-time"),
    ({"started": "2027-03-01"}, "'2027-03-01' is not a date-time"),
    ({"started": "2027-W09-1T09:00"}, "is not a date-time"),
    ({"started": "1927-03-01T09:00"}, "lies outside the years 1990 to 2100"),
    ({"started": "2027-09-26T03:00"}, "never was: clocks were put forward over it that night"),
    ({"reading": "FEV2"}, "there is no reading of 'fvc' 'FEV2'; did you mean 'FEV1'?"),
    ({"reading": ""}, "there is a value or a unit but no reading"),
    ({"value": ""}, "FVC has no value"),
    ({"unit": "l"}, "FVC is in 'L', not 'l'; nothing is converted"),
    ({"unit": ""}, "FVC is in 'L', and it is missing"),
    ({"value": "4,80"}, "is not a number; write a decimal point"),
    ({"value": "nan"}, "is not a number"), ({"value": "inf"}, "is not a number"),
    ({"value": "1e3"}, "is not a number"),
    ({"value": "٤"}, "is not a number"), ({"value": "--1"}, "is not a number"),
    ({"value": "1234567890.123"}, "has more than 12 digits"),
    ({"acceptable": "maybe"}, "'maybe' is neither 'yes' nor 'no' nor empty"),
    ({"note": "x" * 2001}, "longer than 2000 characters"),
    (MARK | {"reading": "begin"}, "must be start, end or stopped, not 'begin'"),
    (MARK | {"reading": ""}, "manoeuvre is empty, so 'reading' must be start, end or stopped"),
    (MARK | {"step": "before"}, "step 'before' has efforts"),
    (MARK | {"effort": "1"}, "effort must be empty"),
    (MARK | {"acceptable": "maybe"}, "'maybe' is neither 'yes' nor 'no' nor empty"),
    (MARK | {"step": "row", "at": "6 min"}, "step 'row' has no time points; leave 'at' empty"),
])  # fmt: skip
def test_a_bad_row_is_refused_in_words(study, change, words):
    found = read(study, GOOD, GOOD | change, GOOD | {"effort": "2"})
    assert [line.row for line in found.lines] == [1, 3]
    assert [one.row for one in found.refused] == [2]
    assert words in found.refused[0].message


def test_an_effort_beyond_at_most_is_taken_for_it_happened(study):
    found = read(study, GOOD | {"effort": "6"})
    assert [line.effort for line in found.lines] == [6]


def test_rows_about_tasks_bouts_and_stopping(study):
    found = read(
        study, GOOD | MARK, GOOD | MARK | {"reading": "end"},
        GOOD | MARK | {"reading": "stopped", "step": ""},
        GOOD | MARK | {"reading": "stopped", "step": "after", "at": "2 min"},
        GOOD | MARK | {"step": "sit", "reading": "start"},
    )  # fmt: skip
    assert found.refused == ()
    assert [(line.step, line.at_s, line.reading) for line in found.lines] == [
        ("row", None, "start"), ("row", None, "end"), ("", None, "stopped"), ("after", 120, "stopped"),
        ("sit", None, "start"),
    ]  # fmt: skip


def test_at_may_be_written_in_any_unit_or_left_out_where_there_is_one(study):
    after = {"step": "after", "manoeuvre": "fvc-short"}
    during = {"step": "row", "manoeuvre": "fvc-short"}
    found = read(study, GOOD | after | {"at": "120 s"}, GOOD | during, GOOD | during | {"at": "6 min"})
    assert [line.at_s for line in found.lines] == [120, 360, 360]


def test_conditions_name_a_visit_that_is_not_blind(study):
    open_kinds = tuple(replace(kind, blind=False) for kind in study.kinds)
    seen = replace(study, kinds=open_kinds)
    condition = seen.asked["ROW-01"][2].condition
    found = read(seen, GOOD | {"visit": f"rowing/{condition}"}, GOOD | {"visit": "rowing/2"})
    assert [line.key.number for line in found.lines] == [2, 2]
    out = seen.folder / "out.csv"
    write_efforts(out, found.lines, seen)
    assert f"rowing/{condition}" in out.read_text()


def test_columns_in_any_order_with_a_byte_order_mark_and_a_stranger(study):
    path = study.folder / "efforts.csv"
    head = [*reversed(COLUMNS), "colour"]
    row = [GOOD[name] for name in reversed(COLUMNS)] + ["blue"]
    path.write_text("\ufeff" + ",".join(head) + "\r\n" + ",".join(row) + "\r\n", encoding="utf-8")
    found = read_efforts(path, study)
    assert len(found.lines) == 1
    assert [warning.code for warning in found.warnings] == ["unknown-column"]


@pytest.mark.parametrize(("data", "code"), [
    (b"participant,visit,step\nROW-01,practice,welcome\n", "missing-column"), (b"", "empty-file"),
    (b"participant;visit;step;started\n", "separator"), (b"\xff\xfe\x00", "encoding"),
    (b"caf\xe9,visit\n", "encoding"),
    (b"participant,visit,step,started\n\"ROW", "table-syntax"),
])  # fmt: skip
def test_what_is_no_efforts_file_is_a_fault(study, data, code):
    path = study.folder / "efforts.csv"
    path.write_bytes(data)
    with pytest.raises(FaultyInput) as caught:
        read_efforts(path, study)
    assert code in [fault.code for fault in caught.value.faults]


HEAD = f"{','.join(COLUMNS)}\n"


def hostile(note: str = "", value: str = "4.80", effort: str = "1") -> str:
    return f"ROW-01,rowing/1,before,,fvc,{effort},2027-03-01T09:00:00,FVC,{value},L,,{note}\n"


@pytest.mark.parametrize(("data", "words"), [
    (bytes(range(256)) * 40, "not UTF-8"),
    (b"PK\x03\x04" + b"x" * 100, "control character U+0003"),
    (("\ufeff" + HEAD).encode("utf-16"), "is in UTF-16"),
    ((HEAD + hostile("a\0b")).encode(), "control character U+0000"),
    (HEAD.encode() + b"ROW-01,\xed\xa0\x80\n", "not UTF-8"),
    (",".join(f"c{number}" for number in range(1_000_000)).encode(), "has 1000000 columns, more than the"),
    ((HEAD + hostile("x" * 1_000_000)).encode(), "has 1000000 letters, and may have at most 131072"),
    (HEAD.replace("note", "value").encode(), "the column 'value' stands here again"),
    ((HEAD + hostile() + hostile('"open')).encode(), "unexpected end of data"),
    (b"\n\n\n", "is empty"),
], ids=["binary", "zip", "utf-16", "nul", "half", "wide", "long", "twice", "quote", "blank"])  # fmt: skip
def test_a_hostile_file_is_refused_whole_with_a_clear_message(study, data, words):
    path = study.folder / "efforts.csv"
    path.write_bytes(data)
    with pytest.raises(FaultyInput) as caught:
        read_efforts(path, study)
    assert words in caught.value.faults[0].message


@pytest.mark.parametrize(("row", "words"), [
    (",".join(["x"] * 100_000) + "\n", "this row has 100000 cells under 12 columns"),
    (hostile(value="9" * 4000), "more than 12 digits"),
    (hostile(value="1e999999"), "is not a number"), (hostile(value="NaN"), "is not a number"),
    (hostile(value="\u0664.8"), "is not a number"),
    (hostile(effort="9" * 20), "is not a whole number"),
    (hostile(note="y" * 2001), "longer than 2000 characters"),
], ids=["cells", "digits", "exponent", "nan", "script", "effort", "note"])  # fmt: skip
def test_a_hostile_row_is_refused_and_kept_and_the_others_are_taken(study, row, words):
    path = study.folder / "efforts.csv"
    path.write_text(f"\ufeff{HEAD.replace(chr(10), chr(13) + chr(10))}{row}{hostile(note='=1+1')}", "utf-8")
    with open_store(study) as store:
        taken = store.take(read_efforts(path, study), by="K1")
        assert (taken.added, [one.row for one in taken.refused]) == (1, [1])
        assert words in taken.refused[0].message
        assert [line.note for line in store.lines()] == ["=1+1"]
        assert store.length() == 2  # the refused row is kept


def test_a_row_with_too_many_cells_is_refused_alone(study):
    path = study.folder / "efforts.csv"
    good = ",".join(GOOD.values())
    path.write_text(",".join(COLUMNS) + f"\n{good}\n{good},extra\n", encoding="utf-8")
    found = read_efforts(path, study)
    assert ([line.row for line in found.lines], [one.row for one in found.refused]) == ([1], [2])


def test_rows_are_counted_in_lines_of_the_file(study):
    """Row 1 is the first line after the head; blank lines and lines inside quotes count."""
    path = study.folder / "efforts.csv"
    good, two_lines = ",".join(GOOD.values()), ",".join([*list(GOOD.values())[:-1], '"over\ntwo lines"'])
    path.write_text(f"{','.join(COLUMNS)}\n{two_lines}\n\n{good.replace('4.80', 'x')}\n", encoding="utf-8")
    assert [one.row for one in read_efforts(path, study).refused] == [4]


@pytest.mark.parametrize("name", ["Europe/Oslo", "America/Halifax", "Pacific/Chatham", "Australia/Lord_Howe"])
def test_the_hour_that_clocks_show_twice_is_kept_apart(study, name, tmp_path):
    """Both local times of the hour; RFC 5545, 3.3.5 (read): without an offset the first is meant."""
    there = replace(study, zone=zone(name), folder=tmp_path)
    change = next(
        datetime.fromtimestamp(stamp, tz=there.zone)
        for stamp in range(1798761600, 1830297600, 1800)  # 2027 by half hours
        if datetime.fromtimestamp(stamp, tz=there.zone).fold
    )
    twice = [change.replace(fold=0), change.replace(fold=1)]
    assert twice[0].timestamp() < twice[1].timestamp()
    for effort, moment in enumerate(twice, start=1):
        line = Line(VisitKey("ROW-01", "practice"), "learn", None, "fvc", effort, "", moment)
        write_efforts(tmp_path / "out.csv", [line], there)
        (back,) = read_efforts(tmp_path / "out.csv", there).lines
        assert back.started.timestamp() == moment.timestamp()
    (bare,) = read(there, GOOD | {"started": change.replace(tzinfo=None, fold=0).isoformat()}).lines
    assert bare.started.timestamp() == twice[0].timestamp()


def test_ordinary_times_are_written_without_an_offset():
    assert local_text(datetime(2027, 3, 1, 9, 0, 5, tzinfo=zone("Europe/Oslo"))) == "2027-03-01T09:00:05"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\tx", "\rx", "'=x", "''=x"])
def test_what_looks_like_a_formula_gets_an_apostrophe(text):
    assert safe(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "cough", "'quoted'", "a=b", "4.80"])
def test_other_text_stays_as_it_is(text):
    assert safe(text) == text


letters = st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_categories=["Cc"])
plain = st.text(letters, max_size=30)
leads = st.sampled_from(["", "=", "+", "-", "@", "'", "'=", "''@"])
noted = st.builds(lambda lead, rest: (lead + rest).strip(), leads, plain)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(note=noted, value=st.decimals(-9999, 9999, places=3), accepted=st.booleans(), effort=st.integers(1, 5))
def test_whatever_is_written_reads_back_to_the_same(study, note, value, accepted, effort):
    started = datetime(2027, 3, 1, 9, 0, tzinfo=study.zone)
    key = VisitKey("ROW-01", "rowing", 2)
    line = Line(key, "before", None, "fvc", effort, "FVC", started, value, "L", accepted, note)
    out: Path = study.folder / "out.csv"
    write_efforts(out, [line], study)
    assert [replace(one, row=0) for one in read_efforts(out, study).lines] == [line]


@given(st.text(max_size=20))
def test_a_number_is_a_decimal_or_refused(text):
    try:
        found = number("FVC", text)
    except ValueError:
        return
    assert found.is_finite()
    assert sum(letter.isdigit() for letter in text) <= 12


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=200))
def test_no_bytes_make_it_stumble(study, data):
    path = study.folder / "efforts.csv"
    path.write_bytes(b"participant,visit,step,started,reading,value\n" + data)
    try:
        read_efforts(path, study)
    except FaultyInput:
        return
