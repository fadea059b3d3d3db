"""Edits of YAML that people also write by hand: only what was meant changes, by as few letters as can be."""

from __future__ import annotations

import string
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.faults import Faults
from planner.files import yaml_tree
from planner.files.edit import renamed, swapped, with_item, with_value, without
from planner.files.fragments import item_lines, key_lines
from planner.files.marks import CannotEdit

PROTOCOLS = sorted((Path(__file__).parents[2] / "protocols").glob("*.yaml"))

HAND_WRITTEN = """\
# The head stays.
name: x   # and what stands beside
visit:
  # before the first
  - id: a      # first
    takes: 5 min

  # before the second
  - id: b
    due: {at: [1 min, 10 min], late: 30 s}   # windows
  - {id: c, takes: 3 min}
empty:
note: >-
  folded
  text

last: "q: r"
"""


def value_of(text):
    faults = Faults()
    tree = yaml_tree(text, "x.yaml", faults)
    assert not faults.faults
    return tree.value


def changed_lines(before, after):
    before, after = before.splitlines(), after.splitlines()
    return [line for line in after if line not in before], [line for line in before if line not in after]


def test_one_item_of_a_list_changes_alone():
    after = with_value(HAND_WRITTEN, ("visit", 1, "due", "at"), ["1 min", "12 min"])
    assert changed_lines(HAND_WRITTEN, after) == (
        ["    due: {at: [1 min, 12 min], late: 30 s}   # windows"],
        ["    due: {at: [1 min, 10 min], late: 30 s}   # windows"],
    )


def test_a_key_is_put_last_in_its_mapping():
    after = with_value(HAND_WRITTEN, ("visit", 0, "title"), "Arrival: first")
    assert '    takes: 5 min\n    title: "Arrival: first"\n\n  # before the second' in after
    after = with_value(HAND_WRITTEN, ("visit", 2, "title"), "Rest")
    assert "- {id: c, takes: 3 min, title: Rest}" in after


def test_a_key_in_a_mapping_that_is_not_there_yet():
    after = with_value(HAND_WRITTEN, ("visit", 0, "watch", "for"), "15 min")
    assert value_of(after)["visit"][0]["watch"] == {"for": "15 min"}
    after = with_value(HAND_WRITTEN, ("empty", "a"), "1")
    assert value_of(after)["empty"] == {"a": "1"}


def test_what_goes_leaves_the_comments_around_it():
    after = without(HAND_WRITTEN, ("visit", 1))
    assert "# before the second" in after
    assert "# before the first" in after
    assert [step["id"] for step in value_of(after)["visit"]] == ["a", "c"]
    after = without(HAND_WRITTEN, ("visit", 1, "id"))
    assert "  - due: {at: [1 min, 10 min], late: 30 s}   # windows" in after


def test_the_last_of_a_list_leaves_empty_brackets():
    text = "a:\n  - 1\nb: 2\n"
    assert without(text, ("a", 0)) == "a: []\nb: 2\n"


def test_neighbours_change_places():
    after = swapped(HAND_WRITTEN, ("visit", 0))
    assert [step["id"] for step in value_of(after)["visit"]] == ["b", "a", "c"]
    assert after.count("#") == HAND_WRITTEN.count("#")
    with pytest.raises(CannotEdit):
        swapped(HAND_WRITTEN, ("visit", 2))


def test_items_are_put_first_between_and_last():
    for place in range(4):
        after = with_item(HAND_WRITTEN, ("visit", place), {"id": "new", "rest": "5 min"})
        assert [step["id"] for step in value_of(after)["visit"]].index("new") == place


def test_a_key_gets_another_name():
    assert renamed("a: {b: 1, c: 2}  # x\n", ("a", "b"), "d e") == "a: {d e: 1, c: 2}  # x\n"
    with pytest.raises(CannotEdit):
        renamed("a: {b: 1, c: 2}\n", ("a", "b"), "c")


def test_a_block_becomes_one_value_and_back():
    text = "a:   # why\n  x: 1\n  y: 2\nb: 3\n"
    assert with_value(text, ("a",), "5 min") == "a: 5 min   # why\nb: 3\n"
    long = dict.fromkeys("pqrs", "a rather long text of many words")
    assert value_of(with_value("a: 1\nb: 3\n", ("a",), long)) == {"a": long, "b": "3"}


def test_what_cannot_be_read_is_not_changed():
    for text in ("a: [1\n", "", "a: 1\na: 2\n"):
        with pytest.raises(CannotEdit):
            with_value(text, ("a",), "3")


@pytest.mark.parametrize("path", PROTOCOLS, ids=lambda path: path.stem)
def test_every_value_of_every_protocol_can_be_changed_alone(path):
    text = path.read_text("utf-8")
    tree = yaml_tree(text, path.name, Faults())
    singles = [where for where in tree.places if where and isinstance(_at(tree.value, where), str)]
    for where in singles[:: max(1, len(singles) // 10)]:
        after = with_value(text, where, "9 min")
        assert len(changed_lines(text, after)[0]) <= 1
        assert with_value(after, where, _at(tree.value, where)).count("\n") <= text.count("\n")


def _at(value, where):
    for part in where:
        value = value[part]
    return value


WORDS = st.text(
    st.sampled_from(string.ascii_letters + string.digits + " :#-,[]{}\"'%&*!|>?@`.é"), max_size=12
)
VALUES = st.recursive(
    WORDS,
    lambda inner: (
        st.lists(inner, min_size=1, max_size=4) | st.dictionaries(WORDS, inner, min_size=1, max_size=4)
    ),
    max_leaves=12,
)


@settings(max_examples=60, deadline=None)
@given(VALUES, VALUES)
def test_whatever_is_put_in_is_read_back(old, new):
    text = "# head\n" + "\n".join([*key_lines("a", old), "b: 1  # beside"]) + "\n"
    assert value_of(text)["a"] == old
    after = with_value(text, ("a",), new)
    assert value_of(after) == {"a": new, "b": "1"}
    assert after.startswith("# head\n")
    assert "b: 1  # beside" in after


@settings(max_examples=60, deadline=None)
@given(st.lists(VALUES, min_size=1, max_size=4), VALUES, st.data())
def test_items_can_be_put_in_and_taken_out(items, value, data):
    text = "\n".join(["a:", *("  " + line for item in items for line in item_lines(item)), "b: 1"]) + "\n"
    place = data.draw(st.integers(0, len(items)))
    after = with_item(text, ("a", place), value)
    assert value_of(after)["a"] == [*items[:place], value, *items[place:]]
    assert value_of(without(after, ("a", place)))["a"] == items
