"""Fields of a protocol: what stands in the file is what a person sees, and the other way round."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.faults import Faults
from planner.files import yaml_tree
from planner.pages import protocol_fields as fields
from planner.pages.protocol_fields import Field, shown, written
from planner.pages.protocol_sheets import (
    MANOEUVRES,
    STEPS,
    WINDOWS,
    enough_of,
    item_paths,
    rows_of,
    tree_of,
    value_at,
    with_edits,
    with_name,
)
from planner.pages.protocol_text import read_text

ROOT = Path(__file__).parents[2]
PROTOCOLS = sorted((ROOT / "protocols").glob("*.yaml"))
LEAST, MOST = Field("", ("efforts", "at_least")), Field("", ("efforts", "at_most"))
ABOUT, LONGEST = Field("", ("takes", "about")), Field("", ("takes", "longest"))
CLEAR, CLEAR_STAFF = Field("", ("clear", "takes")), Field("", ("clear", "staff"), "list")


def test_the_short_way_to_write_is_seen_in_its_fields():
    assert (shown({"efforts": "3"}, LEAST), shown({"efforts": "3"}, MOST)) == ("3", "3")
    assert (shown({"takes": "5 min"}, ABOUT), shown({"takes": "5 min"}, LONGEST)) == ("5 min", "")
    assert shown({"clear": "2 min"}, CLEAR) == "2 min"


def test_the_short_way_is_kept_where_it_says_all_and_left_where_not():
    assert written({"efforts": "3"}, MOST, "8") == {"efforts": {"at_least": "3", "at_most": "8"}}
    assert written({"efforts": {"at_least": "3", "at_most": "8"}}, MOST, "3") == {"efforts": "3"}
    assert written({"clear": "2 min"}, CLEAR_STAFF, "operator") == {
        "clear": {"takes": "2 min", "staff": "operator"}
    }
    assert written({"clear": {"takes": "2 min", "staff": ["operator"]}}, CLEAR_STAFF, "") == {
        "clear": "2 min"
    }
    assert written({"clear": "2 min"}, CLEAR, "") == {}
    assert written({"takes": "5 min"}, LONGEST, "9 min") == {"takes": {"about": "5 min", "longest": "9 min"}}


def test_a_list_keeps_its_brackets():
    staff = Field("", ("staff",), "list")
    assert written({"staff": ["a", "b"]}, staff, "a") == {"staff": ["a"]}
    assert written({}, staff, "a; b") == {"staff": ["a", "b"]}


@pytest.mark.parametrize("path", PROTOCOLS, ids=lambda path: path.stem)
def test_typing_what_is_seen_changes_nothing(path):
    value = yaml_tree(path.read_text("utf-8"), path.name, Faults()).value
    for sheet in (MANOEUVRES, STEPS, WINDOWS):
        for where in item_paths(value, sheet):
            item = value_at(value, where)
            for field in sheet.fields:
                if text := shown(item, field):
                    assert written(item, field, text) == item, (where, field.label)


SMALL = (ROOT / "tests" / "data" / "small" / "rowing.yaml").read_text("utf-8")


def test_cells_rows_and_names_of_a_table_change_the_text():
    edits = {
        "edited_rows": {0: {"Rest between efforts": "45 s"}},
        "added_rows": [{"Short name": "svc", "One effort": "20 s"}],
    }
    after = tree_of(with_edits(SMALL, MANOEUVRES, edits))
    assert after["manoeuvres"]["fvc"]["rest"] == "45 s"
    assert after["manoeuvres"]["svc"] == {"effort": "20 s"}
    gone = with_edits(SMALL, STEPS, {"deleted_rows": [4]})
    assert [step["id"] for step in tree_of(gone)["visit"]] == [
        "welcome",
        "before",
        "row",
        "after",
        "farewell",
    ]


def test_a_window_is_written_from_its_table():
    row = 4
    cells = {"After the end of": "row", "Times": "30 min", "Not later than by": "5 min"}
    after = tree_of(with_edits(SMALL, WINDOWS, {"edited_rows": {row: cells}}))
    assert after["visit"][row]["due"] == {"after": "row", "at": "30 min", "late": "5 min"}


def test_a_new_name_is_used_everywhere():
    after = tree_of(with_name(SMALL, ("manoeuvres", "fvc"), "blow"))
    assert after["manoeuvres"]["fvc-short"]["like"] == "blow"
    assert after["visit"][1]["measure"] == ["blow", "mip", "mep"]
    after = tree_of(with_name(SMALL, ("visit", 2), "pull"))
    assert after["visit"][3]["due"]["after"] == "pull"
    assert read_text(with_name(SMALL, ("visit", 2), "pull"), "x.yaml").faults == ()


def test_the_stop_rule_as_a_table():
    assert rows_of(tree_of(SMALL), enough_of("fvc")) == [
        {"Reading": "FVC", "So many largest": "2", "Any so many": "", "Lie within": "0.150 L"}
    ]


def test_each_mistake_stands_beside_its_field():
    wrong = SMALL.replace("effort: 20 s", "effort: 20", 1).replace("    title: Rowing\n", "")
    found = read_text(wrong, "x.yaml")
    effort = next(one for one in fields.MANOEUVRE if one.path == ("effort",))
    title = next(one for one in fields.STEP if one.path == ("title",))
    assert len(found.of_field(("manoeuvres", "fvc"), effort)) == 1
    assert [fault.code for fault in found.of_field(("visit", 2), title)] == ["missing-key"]
    assert found.of_field(("visit", 1), title) == []
    late = read_text(SMALL.replace("late: 1 min}", "late: soon}"), "x.yaml")
    during = next(one for one in fields.DURING if one.path == ("late",))
    assert len(late.of_field(("visit", 2, "during", 0), during)) == 1
