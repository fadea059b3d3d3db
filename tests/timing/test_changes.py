"""Changes to a protocol reach what takes its keys from another, as in the file."""

from planner.timing.changes import with_manoeuvre

HEAD = """
format: 1
name: like
title: Like
version: "1.0"
manoeuvres:
  a: {title: A, rig: meter, prepare: 60 s, effort: 10 s, efforts: 1}
  b: {like: a, title: B}
  c: {like: a, title: C, prepare: 60 s}
visit:
"""


def test_what_is_like_another_changes_with_it(visit):
    protocol = visit("- {id: m, title: M, measure: [a, b, c]}", HEAD)
    changed = with_manoeuvre(protocol, "a", "prepare", prepare_s=0).manoeuvres
    assert [changed[name].prepare_s for name in "abc"] == [0, 0, 60]


def test_a_key_written_below_leaves_the_other_alone(visit):
    protocol = visit("- {id: m, title: M, measure: [a, b, c]}", HEAD)
    changed = with_manoeuvre(protocol, "b", "prepare", prepare_s=0).manoeuvres
    assert [changed[name].prepare_s for name in "abc"] == [60, 0, 60]
