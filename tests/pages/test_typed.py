"""Times and days as people type them, and as files write them."""

from __future__ import annotations

import pytest

from planner.pages.typed import as_written, tidied


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("8:00", "08:00"),
        ("09:00:00", "09:00"),
        ("8:00 - 16:00", "08:00-16:00"),
        ("08:00–16:00", "08:00-16:00"),
        ("8:00 to 16:30", "08:00-16:30"),
        ("Monday to Friday", "mon-fri"),
        ("Mon - Fri", "mon-fri"),
        ("Mon, Wed", "mon wed"),
        ("Tuesday", "tue"),
        ("mon wed", "mon wed"),
        ("2027-3-1", "2027-03-01"),
        ("2027-03-01..2027-03-05", "2027-03-01..2027-03-05"),
        ("2027-03-01T08:30", "2027-03-01T08:30"),
        ("2027-03-01 8:30", "2027-03-01 08:30"),
        (" 08:30 ", "08:30"),
    ],
)
def test_what_can_mean_one_thing_only_is_written_so(typed: str, kept: str):
    assert as_written(typed) == kept


@pytest.mark.parametrize(
    "typed", ["1.3.2027", "03/04/2027", "half an hour", "8am", "", "12:30:15", "K1", "😀"]
)
def test_what_is_none_or_could_be_two_stays_as_it_was_typed(typed: str):
    assert as_written(typed) == typed


def test_the_cells_of_a_table_are_written_as_its_file_has_them():
    edits = {
        "edited_rows": {0: {"from": "8:00", "person": "8:00"}},
        "added_rows": [{"days": "Mon-Fri", "breaks": "12:00-12:30, 15:00-15:15", "to": None}],
        "deleted_rows": [1],
    }
    assert tidied("shifts", edits) == {
        "edited_rows": {0: {"from": "08:00", "person": "8:00"}},
        "added_rows": [{"days": "mon-fri", "breaks": "12:00-12:30;15:00-15:15", "to": None}],
        "deleted_rows": [1],
    }


def test_roles_may_stand_with_commas_as_devices_do():
    assert tidied("staff", {"added_rows": [{"roles": "operator, cheek support"}]})["added_rows"] == [
        {"roles": "operator;cheek support"}
    ]


def test_a_date_alone_in_absences_is_the_whole_day():
    row = {"person": "K1", "from": "2027-5-11", "to": "2027-05-12"}
    assert tidied("absences", {"added_rows": [row]})["added_rows"] == [
        {"person": "K1", "from": "2027-05-11T00:00", "to": "2027-05-12T23:59"}
    ]
    assert tidied("availability", {"added_rows": [row]})["added_rows"][0]["from"] == "2027-05-11"
