"""Visits fixed and days left out, in a study's own texts; what stands beside them stays letter for letter."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.files.marks import CannotEdit
from planner.study.fixing import HEADER, named_table, names_table, with_closed, with_fixed, without_fixed

STUDY = """\
# who wrote this
format: 1   # first
days: {from: 2027-03-01, to: 2027-03-12, open: {mon-fri: "08:00-17:00"}, closed: [2027-03-05]}
rigs: {spirometer: [S1]}  # the only one
"""
NAMES = st.from_regex(r"[A-Z]{1,3}-[0-9]{2}", fullmatch=True)
ROWS = st.builds(
    lambda who, visit, rig: {"participant": who, "visit": visit, "rig": rig},
    NAMES, st.sampled_from(["", "rowing-1", "practice"]), st.sampled_from(["", "S1", "S2"]),
)  # fmt: skip


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_the_first_fixed_visit_begins_the_table():
    text = with_fixed("", {"participant": "P1", "visit": "rowing-2", "date": "2027-03-02"})
    assert text.startswith(HEADER)
    assert rows(text)[0]["date"] == "2027-03-02"


def test_the_same_visit_again_takes_the_place_of_the_first():
    once = with_fixed("", {"participant": "P1", "visit": "rowing-2", "rig": "S1"})
    twice = with_fixed(once, {"participant": "P1", "visit": "rowing-2", "rig": "S2"})
    assert [row["rig"] for row in rows(twice)] == ["S2"]


def test_a_column_of_ones_own_stays_with_its_cells():
    text = "participant,visit,remark\nP1,rowing-1,asked for mornings\n"
    after = with_fixed(text, {"participant": "P2", "visit": "", "rig": "S1"})
    assert rows(after)[0]["remark"] == "asked for mornings"
    assert rows(without_fixed(after, "P2", None)) == [{**rows(after)[0]}]


@given(st.lists(ROWS, max_size=8))
def test_each_visit_is_fixed_once_as_written_last_and_can_be_let_go(written: list[dict[str, str]]):
    text = ""
    last = {}
    for row in written:
        text = with_fixed(text, row)
        last[row["participant"], row["visit"]] = row["rig"]
    assert {(r["participant"], r["visit"]): r["rig"] for r in rows(text)} == last
    assert len(rows(text)) == len(last)
    for who, visit in last:
        text = without_fixed(text, who, visit or None)
    assert rows(text) == []


def test_the_study_names_the_table_once():
    named = names_table(STUDY)
    assert named_table(STUDY) is None
    assert named_table(named) == "fixed.csv"
    assert names_table(named, "other.csv") == named
    assert named.startswith(STUDY.rstrip("\n"))


def test_a_day_is_left_out_beside_those_that_are_closed_already():
    after = with_closed(STUDY, date(2027, 3, 9))
    assert "closed: [2027-03-05, 2027-03-09]" in after
    assert [line for line in after.splitlines() if "#" in line] == [
        line for line in STUDY.splitlines() if "#" in line
    ]
    assert with_closed(after, date(2027, 3, 9)) == after


def test_a_single_closed_day_becomes_a_list():
    after = with_closed(STUDY.replace("closed: [2027-03-05]", "closed: 2027-03-05"), date(2027, 3, 9))
    assert "2027-03-05, 2027-03-09" in after


def test_a_text_that_cannot_be_read_is_left_alone():
    with pytest.raises(CannotEdit):
        with_closed("days: [", date(2027, 3, 9))
