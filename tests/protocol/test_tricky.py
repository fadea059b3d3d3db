"""Valid files that a strict reader could stumble over: each is read, and means what it says."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.protocol.model import Protocol, TimePoint
from planner.protocol.read import read_protocol
from planner.quantity import quantity

TRICKY = Path(__file__).parents[1] / "data" / "tricky"
FILES = sorted(TRICKY.glob("*.yaml"))


def read(name: str) -> Protocol:
    return read_protocol(TRICKY / f"{name}.yaml")


def test_there_are_twenty_files():
    assert len(FILES) >= 20


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_a_valid_file_is_read(path: Path):
    protocol = read_protocol(path)
    assert protocol.file == path.name
    assert protocol.visit
    assert all(warning.code == "no-clearing" for warning in protocol.warnings)


def test_the_defaults_are_those_of_the_formats():
    manoeuvre = read("all-defaults-block").manoeuvres["m"]
    assert (manoeuvre.rigs, manoeuvre.staff, manoeuvre.prepare_s, manoeuvre.rest_s) == ((), (), 0, 0)
    assert (manoeuvre.at_least, manoeuvre.at_most, manoeuvre.enough) == (1, 1, ())
    assert (manoeuvre.clear, manoeuvre.learning, manoeuvre.acceptable) == (None, None, 1.0)
    assert manoeuvre.length_s(1) == 5
    step = read("least").visit[0]
    assert (step.exercise, step.due, step.watch, step.during, step.starts_within_s) == (
        False,
        None,
        None,
        (),
        None,
    )


def test_one_may_stand_without_brackets_everywhere():
    protocol = read("one-without-brackets")
    assert protocol.cautions == ("Stop when asked.",)
    manoeuvre = protocol.manoeuvres["m"]
    assert (manoeuvre.rigs, manoeuvre.staff, manoeuvre.say) == (("meter",), ("operator",), ("Blow.",))
    assert manoeuvre.enough[0].within == (quantity("10 %"),)
    assert manoeuvre.stop_if[0].falls_below == quantity("50 %")
    assert manoeuvre.clear is not None
    assert manoeuvre.clear.staff == ("operator",)
    run, after = protocol.visit
    assert run.watch is not None
    assert run.watch.staff == ("lead",)
    assert run.during[0].time_points == (TimePoint(300, 0, 120),)
    assert after.due is not None
    assert after.due.time_points == (TimePoint(120, 0, 60),)


def test_line_ends_and_a_byte_order_mark_change_no_place():
    assert read("crlf-and-bom").step_place("a", "takes") == read("least").step_place("a", "takes").__class__(
        "crlf-and-bom.yaml", 8, 5
    )


def test_quotes_and_json_change_nothing():
    assert read("quoted-everything").version == "1.0"
    assert read("quoted-everything").visit[0].takes.about_s == 5405
    assert read("json").visit[0].rest_s == 300


def test_like_takes_every_key_that_is_not_written():
    protocol = read("like-before-its-base")
    short, long = protocol.manoeuvres["short"], protocol.manoeuvres["long"]
    assert (short.title, short.rigs, short.staff, short.effort_s) == (long.title, long.rigs, long.staff, 10)
    assert (short.enough, short.source) == ((), ("my own",))
    assert (short.at_least, short.at_most) == (2, 2)
    assert protocol.place("manoeuvres", "short", "effort") == protocol.place("manoeuvres", "long", "effort")


def test_empty_lists_drop_what_like_would_take():
    other = read("like-drops-lists").manoeuvres["b"]
    assert (other.rigs, other.staff, other.stop_if, dict(other.readings), other.title) == (
        (),
        (),
        (),
        {},
        "B",
    )
    assert other.clear is not None


def test_windows_are_written_out_for_each_time_point():
    ramp = read("during-if-reached").visit[0]
    assert [point.early_s for point in ramp.during[0].time_points] == [0, 10, 20, 30]
    assert [point.late_s for point in ramp.during[0].time_points] == [30] * 4
    assert (ramp.during[0].if_reached, ramp.during[1].if_reached) == (True, False)
    assert ramp.during[1].important
    assert not ramp.takes.is_known
    before = read("before-windows").visit[0].due
    assert (before.anchor, before.side) == ("run", "before")
    assert [point.at_s for point in before.time_points] == [1800, 600, 60]


def test_due_counts_from_the_end_unless_the_start_is_asked_for():
    _, m1, m2, drink = read("from-start").visit
    assert (m1.due.anchored, m2.due.anchored, drink.due.anchored) == ("start", "end", "end")


def test_words_of_other_languages_and_words_that_yaml_might_read_as_values_are_labels():
    protocol = read("words-of-other-languages")
    assert protocol.manoeuvres["m"].staff == ("Prüfperson", "no", "true")
    assert set(protocol.manoeuvres["m"].readings) == {"F, rechts", "yes"}
    assert (protocol.visit[0].id, protocol.visit[0].title) == ("on", "null")


def test_the_keys_beyond_the_core():
    protocol = read("extra-keys")
    assert protocol.priority == ("b/m", "b", "a")
    assert [(one.kind, one.text, one.for_s) for one in protocol.preparation] == [
        ("avoid", "hard exercise", 14_400),
        ("bring", "shoes", None),
        ("wear", "shorts", None),
        ("stay away", "you are ill", None),
    ]
    manoeuvre = protocol.manoeuvres["m"]
    assert (manoeuvre.learning.gain, manoeuvre.learning.over, manoeuvre.acceptable) == (0.05, 3, 0.9)
    assert protocol.visit[1].due.important
