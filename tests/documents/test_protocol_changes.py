"""What changed between two versions of a protocol."""

from dataclasses import replace

from planner.documents.protocol_changes import ProtocolChange, changes
from planner.protocol.model import TimePoint


def words(old, new):
    return [str(change) for change in changes(old, new)]


def test_the_same_has_no_changes(make):
    assert changes(make.rowing_protocol(), make.rowing_protocol()) == ()


def test_version_and_numbers(make):
    old = make.rowing_protocol()
    known = {**old.manoeuvres, "fvc": replace(old.manoeuvres["fvc"], at_most=6, rest_s=60)}
    assert words(old, replace(old, version="1.1", manoeuvres=known)) == [
        "Protocol, version: 1.0 -> 1.1",
        "Manoeuvre fvc, rest: 30 s -> 1 min",
        "Manoeuvre fvc, at most: 8 -> 6",
    ]


def test_a_window_of_one_time_point(make):
    old = make.rowing_protocol()
    after = old.visit[3]
    points = (TimePoint(60, 0, 60), *after.due.time_points[1:])
    new = replace(
        old, visit=(*old.visit[:3], replace(after, due=replace(after.due, time_points=points)), old.visit[4])
    )
    assert words(old, new) == ["Part after, due, time points 1, late: 30 s -> 1 min"]


def test_parts_that_come_go_and_change_places(make):
    old = make.rowing_protocol()
    arrive, before, row, after, sit = old.visit
    new = replace(old, visit=(before, arrive, row, after, replace(sit, id="lie")))
    assert words(old, new) == [
        "Order of the parts: arrive, before, row, after -> before, arrive, row, after",
        "Part sit: removed",
        "Part lie: added",
    ]


def test_manoeuvres_that_come_and_go(make):
    old = make.rowing_protocol()
    without = {name: m for name, m in old.manoeuvres.items() if name != "mep"}
    assert words(old, replace(old, manoeuvres=without)) == ["Manoeuvre mep: removed"]
    assert words(replace(old, manoeuvres=without), old) == ["Manoeuvre mep: added"]


def test_a_rule_that_is_dropped_is_written_out(make):
    old = make.rowing_protocol()
    known = {**old.manoeuvres, "mep": replace(old.manoeuvres["mep"], enough=())}
    (change,) = changes(old, replace(old, manoeuvres=known))
    assert change.where == "Manoeuvre mep, enough"
    assert "MEP" in change.before
    assert "10 %" in change.before
    assert change.after == "none"


def test_yes_and_no(make):
    old = make.rowing_protocol()
    steps = [replace(s, exercise=False) if s.id == "row" else s for s in old.visit]
    assert words(old, replace(old, visit=tuple(steps))) == ["Part row, exercise: yes -> no"]


def test_a_change_knows_its_kind():
    assert str(ProtocolChange("x", None, "y")) == "x: added"
    assert str(ProtocolChange("x", "y", None)) == "x: removed"
