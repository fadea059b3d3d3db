"""One visit on one line: zero is the end of exercise, planned for the plan, recorded for the record."""

from planner.adherence.compare import compare
from planner.adherence.timeline import timeline
from planner.record.effort import VisitKey

KEY = VisitKey("ROW-01", "rowing", 1)


def drawn(by_hand, visit, schedule="plan"):
    plan = by_hand.schedule if schedule == "plan" else schedule
    happened = by_hand.happened_of(*([visit] if visit else []))
    found = compare(by_hand.study, plan, happened)
    return timeline(by_hand.study, plan, happened, found, KEY)


def of(line, planned, row):
    return [(one.start_s, one.end_s) for one in line.stretches if (one.planned, one.row) == (planned, row)]


def test_a_bout_that_ended_late_leaves_what_follows_in_its_place(by_hand):
    """Rowing ends a minute late and all after it moves along: planned and kept lie over each other."""
    visit = by_hand.kept()
    visit.marks["row", "end"] = by_hand.at(40)
    for label in [label for label in visit.efforts if label[0] == "after"]:
        visit.shift(label, 60)
    line = drawn(by_hand, visit)
    assert (line.zero, line.zero_recorded) == ("row", True)
    assert of(line, True, "fvc")[1] == (60, 180)
    assert of(line, False, "fvc")[3:6] == [(60, 80), (110, 130), (160, 180)]
    assert (-1260, 0) in of(line, False, "")
    assert (-1200, 0) in of(line, True, "")
    first = line.windows[0]
    assert (first.at_s, first.low_s, first.high_s, first.happened_s) == (
        -1260 - 300, -1260 - 420, -1260 - 240, -1260 - 300
    )  # fmt: skip


def test_a_plan_without_a_record(by_hand):
    line = drawn(by_hand, None)
    assert not line.zero_recorded
    assert all(one.planned for one in line.stretches)
    assert line.windows == ()


def test_a_record_without_a_plan(by_hand):
    line = drawn(by_hand, by_hand.kept(), schedule=None)
    assert not any(one.planned for one in line.stretches)
    assert len(line.windows) == 5


def test_no_recorded_end_of_exercise_counts_from_the_planned_one(by_hand):
    visit = by_hand.kept()
    del visit.marks["row", "end"]
    line = drawn(by_hand, visit)
    assert (line.zero, line.zero_recorded) == ("row", False)
    assert (60, 80) in of(line, False, "fvc")
    assert len(line.windows) == 3


def test_nothing_of_a_visit_that_nobody_asked_for(by_hand):
    happened = by_hand.happened_of(by_hand.kept())
    found = compare(by_hand.study, None, happened)
    assert timeline(by_hand.study, None, happened, found, VisitKey("ROW-77", "rowing", 1)) is None
    assert timeline(by_hand.study, None, by_hand.happened_of(), found, KEY) is None
