"""Clearing is learned only from a next participant who waited for nothing else."""

import pytest

from planner.adherence.learn import PRIOR_WEIGHT, learn
from planner.protocol.model import Clearing


@pytest.fixture
def world(by_hand):
    """Two participants on S1, the second's first FVC planned to be prepared as the first's is cleared."""
    manoeuvres = dict(by_hand.protocol.manoeuvres)
    manoeuvres["fvc"] = by_hand.replace(manoeuvres["fvc"], clear=Clearing(120))
    steps = [by_hand.replace(s, due=None) if s.id == "ready" else s for s in by_hand.protocol.visit]
    protocol = by_hand.replace(by_hand.protocol, manoeuvres=manoeuvres, visit=tuple(steps))
    asked = [("ROW-01", 1, "mild air"), ("ROW-02", 1, "mild air")]
    study = by_hand.replace(by_hand.study_of(asked), protocols={"rowing.yaml": protocol})

    def undated(visit):
        activities = [
            by_hand.replace(a, at_s=None) if a.step == "ready" else a
            for a in visit.activities
            if a.step in ("arrive", "ready")
        ]
        return by_hand.replace(visit, activities=tuple(activities))

    second_start = by_hand.at(
        0, 14 * 60 + 120 - 660
    )  # S1 is free at 14 min + 2 min; `ready` starts 11 min in
    plan = by_hand.schedule_of(
        undated(by_hand.placed(*asked[0], by_hand.start)), undated(by_hand.placed(*asked[1], second_start))
    )

    def record(late_s, clear_s):
        first, second = by_hand.kept("ROW-01"), by_hand.kept("ROW-02", 1, second_start)
        for visit in (first, second):
            visit.efforts = {("ready", None, "fvc"): visit.efforts["ready", 300, "fvc"]}
            visit.marks = {}
        first.shift(("ready", None, "fvc"), late_s)
        second.shift(("ready", None, "fvc"), max(0, late_s) + clear_s - 120)
        return by_hand.happened_of(first, second)

    return study, plan, record


def test_who_waited_for_a_late_rig_tells_how_long_clearing_took(world):
    study, plan, record = world
    estimate = learn(study, record(180, 200), plan).clear_s["rowing", "fvc"]
    assert (estimate.assumed, estimate.observations) == (120, 1)
    assert estimate.learned == pytest.approx((PRIOR_WEIGHT * 120 + 200) / (PRIOR_WEIGHT + 1))


def test_who_might_have_started_as_planned_had_it_been_quick_tells_nothing(world):
    """Still being cleared by the assumption, but free in time if somebody was quick: not to be chosen by."""
    study, plan, record = world
    assert learn(study, record(60, 200), plan).clear_s == {}


def test_who_could_start_as_planned_tells_nothing(world):
    study, plan, record = world
    assert learn(study, record(-90, 300), plan).clear_s == {}


def test_without_a_plan_nobody_knows_which_rig_it_was(world):
    study, _, record = world
    assert learn(study, record(180, 200)).clear_s == {}


def test_a_manoeuvre_that_has_another_name_by_now_tells_nothing(world, by_hand):
    """The plan in force, and what was recorded by it, still know it by its old name."""
    study, plan, record = world
    protocol = study.protocols["rowing.yaml"]
    manoeuvres = {**protocol.manoeuvres, "vc": by_hand.replace(protocol.manoeuvres["fvc"], id="vc")}
    del manoeuvres["fvc"]
    steps = [
        by_hand.replace(step, measure=tuple("vc" if name == "fvc" else name for name in step.measure))
        for step in protocol.visit
    ]
    renamed = by_hand.replace(protocol, manoeuvres=manoeuvres, visit=tuple(steps))
    study = by_hand.replace(study, protocols={"rowing.yaml": renamed})
    assert learn(study, record(180, 200), plan).clear_s == {}
