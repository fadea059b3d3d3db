"""Lines and efforts are two ways to say the same."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.record.efforts_file import read_efforts
from planner.record.lines import gather, is_rehearsed, lines_of, plain_text
from planner.record.rehearse import rehearse
from planner.record.store import open_recorded, open_store, open_store_for


@pytest.mark.parametrize(("note", "claim"), [
    ("rehearsed", True), (" Rehearsed ", True), ("rehearsed; coughed", True),
    ("rehearsed the manoeuvre first", False),
    ("", False), ("was rehearsed", False),
])  # fmt: skip
def test_what_marks_a_line_as_rehearsed(note, claim):
    assert is_rehearsed(note) is claim


def test_gathering_and_taking_apart_give_the_same(study, schedule, plans):
    lines = rehearse(study, schedule, plans, seed=1)
    happened = gather(lines, rehearsed=True)
    assert gather(lines_of(happened), rehearsed=True) == happened
    assert sorted(lines_of(happened), key=str) == sorted(lines, key=str)


@pytest.mark.parametrize(
    ("typed", "kept"), [("a\x00b\r\nc", "a b  c"), ("\x85 x \u2028", "x"), ("y" * 3000, "y" * 2000)]
)
def test_typed_text_is_fit_for_a_file(typed, kept):
    assert plain_text(typed) == kept


def test_a_study_whose_record_is_real_refuses_rehearsed_lines_row_by_row(study, two_efforts):
    path = study.folder / "efforts.csv"
    path.write_text(two_efforts)
    real = read_efforts(path, study)
    made_up = replace(real, rows=tuple(replace(line, note="rehearsed") for line in real.lines))
    with open_store_for(study, real) as store:
        assert (store.rehearsed, store.take(real).added) == (False, 5)
    with open_store_for(study, made_up) as store:
        assert [one.row for one in store.take(made_up).refused] == [1, 2, 3, 4, 5]


def test_a_study_that_is_rehearsed_refuses_real_lines_row_by_row(study, two_efforts):
    path = study.folder / "efforts.csv"
    path.write_text(two_efforts)
    real = read_efforts(path, study)
    made_up = replace(real, rows=tuple(replace(line, note="rehearsed") for line in real.lines))
    with open_store_for(study, made_up) as store:
        assert (store.rehearsed, store.take(made_up).added) == (True, 5)
    with open_store_for(study, real) as store:
        assert len(store.take(real).refused) == 5
    with open_recorded(study) as store:
        assert store.rehearsed


def test_asking_what_is_recorded_makes_no_rehearsal(study):
    with open_recorded(study) as store:
        assert store.is_empty()
    assert not (study.folder / ".testday" / "rehearsal.sqlite3").exists()
    open_store(study, rehearsed=True).close()
    with open_recorded(study) as store:
        assert not store.rehearsed
