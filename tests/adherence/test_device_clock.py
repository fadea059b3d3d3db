"""A device's clock that is off: asked about where only that device's blocks lie elsewhere, and alike."""

import pytest

from planner.adherence.compare import compare


def notes(by_hand, visit):
    found = compare(by_hand.study, by_hand.schedule, by_hand.happened_of(visit))
    return [n for n in found.notes if n.kind == "clock of a device"], found


def shifted(by_hand, manoeuvre, seconds):
    visit = by_hand.kept()
    for label in visit.efforts:
        if label[2] == manoeuvre:
            visit.shift(label, seconds)
    return visit


@pytest.mark.parametrize(("seconds", "words"), [(240, "4 min later"), (-240, "4 min earlier")])
def test_a_clock_four_minutes_off_is_asked_about_and_every_size_is_there(by_hand, seconds, words):
    (note,), found = notes(by_hand, shifted(by_hand, "mep", seconds))
    assert note.words.startswith(f"all 4 blocks on M1 lie {words} against the plan")
    assert {e.off_s for e in found.efforts if e.manoeuvre == "mep"} == {seconds}
    assert {e.off_s for e in found.efforts if e.manoeuvre == "fvc"} == {0}


def test_a_visit_that_is_late_altogether_is_no_matter_of_clocks(by_hand):
    assert notes(by_hand, by_hand.kept(start=by_hand.at(17)))[0] == []


def test_half_a_minute_is_people_and_one_block_alone_too(by_hand):
    assert notes(by_hand, shifted(by_hand, "mep", 45))[0] == []
    visit = by_hand.kept()
    visit.shift(("after", 900, "mep"), 240)
    assert notes(by_hand, visit)[0] == []


def test_delays_that_differ_are_no_matter_of_clocks(by_hand):
    visit = by_hand.kept()
    for seconds, label in enumerate(label for label in visit.efforts if label[2] == "mep"):
        visit.shift(label, 100 + 60 * seconds)
    assert notes(by_hand, visit)[0] == []
