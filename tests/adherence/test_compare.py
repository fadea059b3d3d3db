"""Hand-made deviations: each found with its size to the second, none invented."""

import json

import pytest

from planner.adherence.compare import compare


def judged(by_hand, visit, schedule="plan"):
    plan = by_hand.schedule if schedule == "plan" else schedule
    return compare(by_hand.study, plan, by_hand.happened_of(visit))


def kinds(found):
    return [(d.kind, d.step, d.at_s, d.manoeuvre, d.effort, d.size) for d in found.deviations]


def test_a_record_that_keeps_to_the_plan_has_no_deviation(by_hand):
    found = judged(by_hand, by_hand.kept())
    assert kinds(found) == []
    assert found.kept == (5, 5)
    assert found.counts == (22, 22, 22, 0, 0, 0)
    assert {line.off_s for line in found.efforts} == {0}
    assert {line.rest_before_s for line in found.efforts} == {None, 30}


def test_the_document_has_the_keys_that_are_fixed(by_hand):
    document = json.loads(json.dumps(judged(by_hand, by_hand.kept()).as_json()))
    assert {"efforts", "time_points", "summary"} <= set(document)
    assert {
        "participant", "visit", "condition", "step", "at_s", "manoeuvre", "effort", "planned", "happened",
        "off_s", "rest_before_s",
    } <= set(document["efforts"][0])  # fmt: skip
    assert {
        "participant", "visit", "condition", "step", "at_s", "planned_after_s", "happened_after_s", "on_time",
    } <= set(document["time_points"][0])  # fmt: skip
    assert {"on_time", "of", "share", "low", "high", "no_anchor", "stopped"} <= set(
        document["summary"]["time_points"]
    )
    assert {"planned", "recorded", "matched", "missing", "extra"} <= set(document["summary"]["efforts"])
    assert document["efforts"][0]["planned"] == "2027-03-01T09:12:00-04:00"


@pytest.mark.parametrize(
    ("seconds", "kept", "off_s"),
    [(0, "on time", 0), (30, "on time", 0), (31, "late", 1), (-1, "early", -1), (95, "late", 65)],
)
def test_a_time_point_counts_from_the_recorded_end_of_the_bout(by_hand, seconds, kept, off_s):
    """Both ends of the window 1 min to 1 min 30 s are on time; the whole bout may end later than planned."""
    visit = by_hand.kept()
    late = 420
    visit.marks["row", "end"] = by_hand.at(39, late)
    for label in [label for label in visit.efforts if label[0] == "after"]:
        visit.shift(label, late)
    visit.shift(("after", 60, "fvc"), seconds)
    found = judged(by_hand, visit)
    (point,) = [p for p in found.time_points if (p.step, p.at_s) == ("after", 60)]
    assert (point.happened_after_s, point.planned_after_s) == (60 + seconds, 60)
    assert (point.kept, point.off_s) == (kept, off_s)
    firsts = [
        line for line in found.efforts if (line.step, line.at_s, line.manoeuvre) == ("after", 60, "fvc")
    ]
    assert [line.off_s for line in firsts] == [late + seconds] * 3
