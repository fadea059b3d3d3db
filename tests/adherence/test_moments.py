"""Blocks as anchors: what counts from the end or start of a step with efforts."""

import textwrap
from decimal import Decimal

from planner.adherence.compare import compare
from planner.protocol.read import read_protocol

PROTOCOL = """
format: 1
name: blocks
title: Blocks as anchors
version: "1.0"
manoeuvres:
  mep: {title: Maximal expiratory pressure, prepare: 45 s, effort: 10 s, rest: 30 s, efforts: 2}
visit:
  - {id: early, title: Early, measure: [mep], due: {before: middle, at: 3 min, late: 1 min, early: 1 min}}
  - {id: middle, title: Middle, measure: [mep]}
  - {id: late, title: Late, measure: [mep], due: {after: middle, at: 5 min, late: 10 s}}
  - {id: again, title: Again, measure: [mep], due: {after: late, at: 2 min, late: 10 s}}
  - {id: bell, title: A question, takes: 1 min, due: {after: middle, from: start, at: 20 min, late: 10 s}}
"""


def judged(by_hand, tmp_path, *, shift=0, bell=0, mark=None):
    path = tmp_path / "blocks.yaml"
    path.write_text(textwrap.dedent(PROTOCOL), encoding="utf-8")
    protocol = read_protocol(path)
    study = by_hand.replace(by_hand.study, protocols={"rowing.yaml": protocol})
    visit = by_hand.kept()
    visit.efforts, visit.marks = {}, {}
    visit.block("early", 180, "mep", by_hand.at(0), 2, 40)  # ends at 50 s
    visit.block("middle", None, "mep", by_hand.at(0, 50 + 180 + 45), 2, 40)  # prepared from 3:50 on
    visit.block("late", 300, "mep", by_hand.at(0, 50 + 180 + 45 + 50 + 300 + shift), 2, 40)
    late_ends = 50 + 180 + 45 + 50 + 300 + shift + 50
    visit.block("again", 120, "mep", by_hand.at(0, late_ends + 120), 2, 40)
    if mark is not None:
        visit.marks["middle", "start"] = by_hand.at(0, mark)
    happened = by_hand.happened_of(visit)
    bell_mark = by_hand.mark(visit.key, "bell", 1200, "start", by_hand.at(0, 230 + 1200 + bell))
    return compare(study, None, by_hand.replace(happened, marks=(*happened.marks, bell_mark)))


def of_step(found, step):
    return next((p.happened_after_s, p.kept) for p in found.time_points if p.step == step)


def test_a_step_with_efforts_starts_with_preparing_and_ends_with_its_last_effort(by_hand, tmp_path):
    found = judged(by_hand, tmp_path)
    assert of_step(found, "early") == (180, "on time")
    assert of_step(found, "late") == (300, "on time")
    assert of_step(found, "again") == (120, "on time")
    assert of_step(found, "bell") == (1200, "on time")


def test_one_second_outside_is_outside(by_hand, tmp_path):
    found = judged(by_hand, tmp_path, shift=11, bell=-1)
    assert of_step(found, "late") == (311, "late")
    assert of_step(found, "bell") == (1199, "early")


def test_a_recorded_start_goes_before_the_reckoned_one(by_hand, tmp_path):
    found = judged(by_hand, tmp_path, mark=200)
    assert of_step(found, "early") == (150, "on time")
    assert of_step(found, "bell") == (1230, "late")


def test_nothing_else_is_found(by_hand, tmp_path):
    found = judged(by_hand, tmp_path)
    assert found.deviations == ()
    assert found.counts.matched == 8
    assert Decimal(found.kept.share) == 1


def test_what_the_plan_had_stands_beside_what_happened(by_hand, tmp_path):
    """The plan has the second block due 7 s late, the one counted from it 3 s late, the bell 9 s late."""
    path = tmp_path / "blocks.yaml"
    path.write_text(textwrap.dedent(PROTOCOL), encoding="utf-8")
    study = by_hand.replace(by_hand.study, protocols={"rowing.yaml": read_protocol(path)})

    def block(step, at_s, first_s):
        return by_hand.activity(step, at_s, "mep", by_hand.at(0, first_s - 45), 45, 2, 10, 30)

    bell = by_hand.replace(by_hand.task("bell", by_hand.at(0, 230 + 1209), 60), at_s=1200)
    activities = (
        block("early", 180, 0),
        block("middle", None, 50 + 180 + 45),
        block("late", 300, 325 + 307),
        block("again", 120, 325 + 307 + 50 + 123),
        bell,
    )
    visit = by_hand.replace(by_hand.schedule.visits[0], activities=activities)
    record = by_hand.kept()
    record.efforts, record.marks = {("middle", None, "mep"): [by_hand.at(5)]}, {}
    found = compare(study, by_hand.schedule_of(visit), by_hand.happened_of(record))
    assert {p.step: p.planned_after_s for p in found.time_points} == {
        "early": 180, "late": 307, "again": 123, "bell": 1209
    }  # fmt: skip
