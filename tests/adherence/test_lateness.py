"""Lateness from the moment at which something was due and could begin."""

import pytest

from planner.adherence.asked import asked
from planner.adherence.lateness import lateness
from planner.adherence.recorded import by_visit


def found(by_hand, visit, placed=None):
    (record,) = by_visit(by_hand.happened_of(visit)).values()
    return list(lateness(asked(by_hand.protocol), record, placed))


def test_whoever_is_on_the_second_is_not_late(by_hand):
    assert found(by_hand, by_hand.kept()) == [("row", 0), ("row", 0), ("after", 0), ("after", 0)]


def test_late_is_plus_and_early_is_minus(by_hand):
    visit = by_hand.kept()
    visit.shift(("after", 60, "fvc"), 7)
    visit.shift(("after", 900, "fvc"), -5)
    assert found(by_hand, visit)[2:] == [("after", 7), ("after", -5)]


def test_what_waited_for_the_block_before_it_is_late_only_from_then(by_hand):
    """MEP ends 15 min 20 s after rowing, FVC takes 60 s to prepare and begins 4 s after that."""
    visit = by_hand.kept()
    visit.efforts["after", 60, "mep"] = [by_hand.at(39, 910 + 40 * n - 80) for n in range(3)]
    visit.efforts["after", 900, "fvc"] = [by_hand.at(39, 920 + 60 + 4 + 50 * n) for n in range(4)]
    assert found(by_hand, visit)[3] == ("after", 4)


def test_a_plan_that_puts_it_later_is_waited_for(by_hand):
    """The plan has the second FVC 15 min after rowing; put 30 s later there, 36 s are 6 s late."""
    visit = by_hand.kept()
    visit.shift(("after", 900, "fvc"), 36)
    plan = by_hand.placed("ROW-01", 1, "mild air", by_hand.start)
    moved = tuple(
        by_hand.replace(a, start=by_hand.at(0, 30, a.start), first_effort=by_hand.at(0, 30, a.first_effort))
        if (a.at_s, a.manoeuvre, a.step) == (900, "fvc", "after")
        else a
        for a in plan.activities
    )
    assert found(by_hand, visit, by_hand.replace(plan, activities=moved))[3] == ("after", 6)
    assert found(by_hand, visit)[3] == ("after", 36)


@pytest.mark.parametrize("mark", [("row", "end"), ("row", "start")])
def test_without_the_anchor_nothing_is_told(by_hand, mark):
    visit = by_hand.kept()
    del visit.marks[mark]
    assert {step for step, _ in found(by_hand, visit)} == {"row" if mark[1] == "end" else "after"}
