"""Fields of a protocol: what stands in the file is what a person sees, and the other way round."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.faults import Faults
from planner.files import yaml_tree
from planner.files.edit import with_value
from planner.pages import protocol_fields as fields
from planner.pages.protocol_fields import Field, shown, written
from planner.pages.protocol_sheets import (
    MANOEUVRES,
    PREPARATIONS,
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
from planner.pages.study_fields import VISITS
from planner.protocol.written import (
    DuringWritten,
    ManoeuvreWritten,
    PreparationWritten,
    ProtocolWritten,
    StepWritten,
)

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
    more = {MANOEUVRES: fields.MANOEUVRE_MORE, STEPS: fields.STEP_MORE}
    for sheet in (MANOEUVRES, STEPS, WINDOWS, PREPARATIONS):
        for where in item_paths(value, sheet):
            item = value_at(value, where)
            for field in (*sheet.fields, *more.get(sheet, ())):
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


def test_every_key_that_a_protocol_may_have_has_a_field():
    """Against the shapes that the reader itself goes by; those in tables of their own are named here."""
    elsewhere = {"manoeuvres", "visit", "format", "readings", "enough", "stop_if", "during"}
    for shape, own in (
        (ProtocolWritten, (*fields.HEAD, *fields.HEAD_MORE, Field("", ("preparation",)))),
        (ManoeuvreWritten, (*fields.MANOEUVRE, *fields.MANOEUVRE_MORE)),
        (StepWritten, (*fields.STEP, *fields.STEP_MORE, *fields.WINDOW)),
        (DuringWritten, (*fields.DURING, Field("", ("source",)))),
        (PreparationWritten, fields.PREPARATION),
    ):
        keys = {known.alias or name for name, known in shape.model_fields.items()}
        assert keys - elsewhere == {str(field.path[0]) for field in own}, shape.__name__


def test_texts_with_commas_are_kept_each_on_a_line():
    cautions = next(one for one in fields.HEAD_MORE if one.path == ("cautions",))
    item = {"cautions": ["Stop for pain, or faintness", "Sit down"]}
    assert shown(item, cautions) == "Stop for pain, or faintness\nSit down"
    assert written(item, cautions, "Stop for pain, or faintness\n\n Stay ") == {
        "cautions": ["Stop for pain, or faintness", "Stay"]
    }
    assert written({"cautions": ["a", "b"]}, cautions, "a") == {"cautions": ["a"]}


def test_comments_and_order_stay_where_texts_are_changed():
    path = ROOT / "protocols" / "cold-air-rowing.yaml"
    text = path.read_text("utf-8")
    value = tree_of(text)
    priority = next(one for one in fields.HEAD_MORE if one.path == ("priority",))
    item = written(value, priority, "after/mep\nafter/mip\nafter/fvc-after")
    after = with_value(text, ("priority",), item["priority"])
    assert tree_of(after)["priority"] == ["after/mep", "after/mip", "after/fvc-after"]
    assert [line for line in text.splitlines() if "#" in line] == [
        line for line in after.splitlines() if "#" in line
    ]
    assert list(tree_of(after)) == list(value)


def test_the_first_row_of_a_list_that_is_not_written_yet_begins_it():
    row = {"Avoid": "coffee, tea", "For": "4 h"}
    after = with_edits(SMALL, PREPARATIONS, {"added_rows": [row, {"Bring": "shoes"}]})
    assert tree_of(after)["preparation"] == [{"avoid": "coffee, tea", "for": "4 h"}, {"bring": "shoes"}]
    visits = with_edits("format: 1\n", VISITS, {"added_rows": [{"Visit": "first", "Protocol": "ours.yaml"}]})
    assert tree_of(visits)["visits"] == [{"id": "first", "protocol": "ours.yaml"}]
