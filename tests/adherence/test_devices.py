"""Devices against the plan: judged where the record tells the device, never guessed where it does not."""

from dataclasses import replace

import pytest

from planner.adherence.as_json import document
from planner.adherence.compare import compare
from planner.adherence.groups import by_rig
from planner.adherence.log import log_rows
from planner.adherence.tables import blocks_table
from planner.adherence.words import summary_words


def made_on(happened, where):
    """The record with devices: `where` gives one for each (step, at_s, manoeuvre, number), or None."""
    efforts = (replace(e, rig=where(e.step, e.at_s, e.manoeuvre, e.number)) for e in happened.efforts)
    return replace(happened, efforts=tuple(efforts))


def as_planned(step, at_s, manoeuvre, number):
    return "M1" if manoeuvre == "mep" else "S1"


def judged(by_hand, where, schedule="plan"):
    plan = by_hand.schedule if schedule == "plan" else schedule
    return compare(by_hand.study, plan, made_on(by_hand.happened_of(by_hand.kept()), where))


def test_devices_as_planned_are_no_deviation(by_hand):
    found = judged(by_hand, as_planned)
    assert found.deviations == ()
    assert found.rigs == (7, 0, 0)
    assert "Measures on the planned device: 7 of 7 (100 %" in summary_words(found)


def test_where_no_device_is_recorded_none_is_judged(by_hand):
    found = judged(by_hand, lambda *_: None)
    assert found.deviations == ()
    assert found.rigs == (0, 0, 7)
    assert found.rigs.share.share is None
    assert "Measures on the planned device: none to judge; 7 not recorded." in summary_words(found)
    assert set(blocks_table(found)["devices"]) == {"not recorded"}


def test_another_device_is_found_with_the_number_of_efforts_on_it(by_hand):
    def where(step, at_s, manoeuvre, number):
        moved = (step, at_s, manoeuvre) == ("after", 900, "fvc") and number > 1
        return "S2" if moved else as_planned(step, at_s, manoeuvre, number)

    found = judged(by_hand, where)
    (one,) = found.deviations
    assert (one.kind, one.step, one.at_s, one.manoeuvre) == ("other device", "after", 900, "fvc")
    assert (one.effort, one.size, one.unit, one.when) == (2, 3, "efforts", by_hand.at(54, 50))
    assert one.words == "3 of 4 efforts on S2; planned on S1"
    assert found.rigs == (6, 1, 0)
    assert document(found)["summary"]["rigs"]["share"] == pytest.approx(6 / 7)
    assert [row["what"] for row in log_rows(found)] == ["other device"]


def test_a_manoeuvre_on_two_devices_together(by_hand):
    plan = by_hand.placed("ROW-01", 1, "mild air", by_hand.start)
    both = tuple(replace(a, rigs=("S1", "M1")) if a.manoeuvre else a for a in plan.activities)
    schedule = by_hand.schedule_of(replace(plan, activities=both))
    assert judged(by_hand, lambda *_: "M1;S1", schedule).rigs == (7, 0, 0)
    assert judged(by_hand, lambda *_: "M1; S2", schedule).rigs == (0, 7, 0)


def test_a_bout_on_another_device(by_hand):
    plan = by_hand.placed("ROW-01", 1, "mild air", by_hand.start)
    with_ergometer = tuple(replace(a, rigs=("E1",)) if a.step == "row" else a for a in plan.activities)
    schedule = by_hand.schedule_of(replace(plan, activities=with_ergometer))
    happened = by_hand.happened_of(by_hand.kept())
    marks = tuple(replace(m, rig="E2") if m.step == "row" else m for m in happened.marks)
    found = compare(by_hand.study, schedule, replace(happened, marks=marks))
    (one,) = found.deviations
    assert (one.kind, one.step, one.manoeuvre, one.words) == (
        "other device",
        "row",
        None,
        "on E2; planned on E1",
    )


def test_without_a_plan_there_is_nothing_to_hold_a_device_against(by_hand):
    found = judged(by_hand, lambda *_: "S9", schedule=None)
    assert (found.deviations, found.rigs) == ((), (0, 0, 0))


def test_shares_by_device_go_by_the_recorded_one(by_hand):
    assert [g.name for g in by_rig(judged(by_hand, lambda *_: "S2"))] == ["S2"]
    assert [g.name for g in by_rig(judged(by_hand, lambda *_: None))] == ["M1", "S1"]
