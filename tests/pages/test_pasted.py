"""Rows copied from a spreadsheet, as they come to the clipboard."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.pages.pasted import fitted, pasted, spread

STAFF = ("person", "roles")
CELL = st.text(st.characters(codec="ascii", categories=("L", "N")) | st.sampled_from(" ;-:"), max_size=8).map(
    str.strip
)


def test_rows_with_tabs_go_by_the_order_of_the_columns():
    assert pasted("A1\toperator;lead\r\nA2\toperator\r\n", STAFF) == [
        {"person": "A1", "roles": "operator;lead"},
        {"person": "A2", "roles": "operator"},
    ]


def test_names_of_columns_above_the_rows_say_which_is_which():
    assert pasted("Roles\tPerson\nlead\tA1", STAFF) == [{"roles": "lead", "person": "A1"}]


def test_a_name_with_a_word_more_is_that_column():
    text = "Participant ID\tGroup name\nP01\ta"
    assert pasted(text, ("participant", "group")) == [{"participant": "P01", "group": "a"}]


def test_no_column_is_dropped_in_silence():
    with pytest.raises(ValueError, match="has no Sex; it has participant, group"):
        pasted("Participant ID\tSex\nP01\tf", ("participant", "group"))


def test_a_head_that_names_one_column_is_no_row():
    with pytest.raises(ValueError, match="has no Name; it has person, roles"):
        pasted("Name\tRole\nA1\tlead", STAFF)


def test_a_file_gives_its_columns_by_their_heads_and_says_what_is_left_out():
    head, rows = ["Participant ID", "Age", "Group"], [["P01", "33", "a"], ["P02", "41", "b"]]
    assert fitted(head, rows, ("participant", "group", "replaces")) == (
        [{"participant": "P01", "group": "a"}, {"participant": "P02", "group": "b"}],
        ["Age"],
    )


def test_commas_part_cells_only_where_there_is_no_tab():
    assert pasted("A1,lead", STAFF) == [{"person": "A1", "roles": "lead"}]
    assert pasted("spirometer\tS1, S2", ("Class", "Devices")) == [
        {"Class": "spirometer", "Devices": "S1, S2"}
    ]


def test_too_many_cells_are_said_with_their_row():
    with pytest.raises(ValueError, match="row 2 has 3 cells, the table 2 columns: person, roles"):
        pasted("A1\tlead\nA2\tlead\tmore", STAFF)


def test_empty_rows_are_left_out():
    assert pasted("\nA1\tlead\n\t\n\n", STAFF) == [{"person": "A1", "roles": "lead"}]


@given(st.lists(st.tuples(CELL, CELL).filter(any), min_size=1))
def test_what_a_spreadsheet_copies_is_what_the_table_gets(cells: list[tuple[str, str]]):
    text = "person\troles\n" + "\n".join("\t".join(row) for row in cells)
    assert [(row["person"], row["roles"]) for row in pasted(text, STAFF)] == cells


def test_a_block_pasted_into_one_new_cell_is_spread():
    edits = {"edited_rows": {}, "added_rows": [{"person": "A1\tlead\nA2\toperator"}], "deleted_rows": []}
    assert spread(edits, STAFF)["added_rows"] == [
        {"person": "A1", "roles": "lead"},
        {"person": "A2", "roles": "operator"},
    ]
    column = {"added_rows": [{"person": "A3", "roles": "lead"}, {"person": "P1\nP2"}]}
    assert spread(column, STAFF)["added_rows"] == [
        {"person": "A3", "roles": "lead"},
        {"person": "P1"},
        {"person": "P2"},
    ]


def test_a_cell_of_words_stays_one_cell():
    edits = {"added_rows": [{"person": "A1", "roles": "operator, lead"}]}
    assert spread(edits, STAFF) == edits
