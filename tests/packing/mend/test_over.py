"""A bout that has begun and lasts into hours that it may not have: it stays, is named, the rest is mended."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from planner.schedule.changes import RUNS_OVER
from planner.schedule.model import Schedule
from planner.schedule.verify import verify

STEPS = """
  - {id: hello, title: Hello, takes: 10 min, staff: lead}
  - {id: before, title: Before, measure: fvc}
  - {id: bike, title: Easy cycling, exercise: true, takes: 10 min, rig: bike, staff: lead, clear: 3 min,
     watch: {staff: lead, for: 5 min}}
  - {id: farewell, title: Farewell, takes: 10 min, staff: operator}
"""
EARLY = """
P1
08:00:00 K2
08:10:00 S1 K1
08:13:50 B1 K2 + K3
08:23:50 K4
"""
LATE = """
P1
13:20:00 K2
13:30:00 S1 K1
13:33:50 B1 K2 + K3
13:43:50 K4
"""
Days = Callable[..., Any]
BIKE = ("P1", "bike")


def over(found: Schedule) -> list[tuple[str | None, str]]:
    """The steps that are said to last too long, in words."""
    return [(one.step, one.message) for one in found.changes if one.kind == RUNS_OVER]


def steps_of(found: Schedule) -> dict[str, tuple[str, str]]:
    (visit,) = [one for one in found.visits if one.participant == "P1"]
    return {one.step: (f"{one.start:%H:%M:%S}", f"{one.end:%H:%M:%S}") for one in visit.activities}


def test_a_bout_that_lasts_into_the_break_of_who_serves_it_leaves_them_a_shorter_one(running_day: Days):
    day = running_day(STEPS, EARLY, breaks={"K2": "08:25-08:40"})
    found = day.mend("08:20:00", ended={BIKE: day.at("08:27:00")})
    assert steps_of(found)["bike"] == ("08:13:50", "08:27:00")
    assert steps_of(found)["farewell"] == ("08:27:00", "08:37:00")
    assert over(found) == [
        (
            "bike",
            "P1, short (step bike) until 08:27, and K2 has a break 08:25 to 08:40: it has begun and stays as "
            "it was; the break is 2 min shorter, or somebody must take over; the person in charge decides",
        )
    ]


def test_a_second_trouble_is_mended_beside_the_break(running_day: Days):
    other = "P2\n09:00:00 K2\n09:10:00 S1 K1\n09:13:50 B1 K2 + K3\n09:23:50 K4"
    day = running_day(STEPS, EARLY + other, breaks={"K2": "08:25-08:40"})
    out = (("S1", day.at("09:00"), day.at("14:00")),)
    found = day.mend("08:20:00", ended={BIKE: day.at("08:27:00")}, out_of_use=out)
    assert [step for step, _ in over(found)] == ["bike"]
    (visit,) = [one for one in found.visits if one.participant == "P2"]
    assert [one.rigs for one in visit.activities] == [(), ("S2",), ("B1",), ()]


def test_a_bout_that_lasts_beyond_the_shift_is_named(running_day: Days):
    day = running_day(STEPS, EARLY, shifts={"K2": "08:00,08:25,"})
    found = day.mend("08:20:00", ended={BIKE: day.at("08:27:00")})
    (named,) = over(found)
    assert named[1] == (
        "P1, short (step bike) until 08:27, and K2 is not on shift: it has begun and stays as it was; "
        "somebody must take over"
    )


def test_an_absence_of_the_files_is_named_like_one_that_is_told(running_day: Days):
    table = "person,from,to\nK2,2027-03-01T08:25,2027-03-01T14:00"
    day = running_day(STEPS, EARLY, absences=table)
    found = day.mend("08:20:00", ended={BIKE: day.at("08:27:00")})
    (named,) = over(found)
    assert "until 08:27, and K2 is absent: it has begun and stays as it was; somebody must" in named[1]


def test_a_bout_that_lasts_into_an_outage_of_its_rig_is_named(running_day: Days):
    table = "rig,from,to\nB1,2027-03-01T08:27,2027-03-01T08:50"
    day = running_day(STEPS, EARLY, outages=table)
    found = day.mend("08:20:00", ended={BIKE: day.at("08:28:00")})
    assert steps_of(found)["bike"] == ("08:13:50", "08:28:00")
    assert over(found) == [
        (
            "bike",
            "P1, short (step bike) until 08:31, and B1 is out of use 2027-03-01 08:27 to 2027-03-01 08:50: "
            "it has begun and stays as it was; the person in charge decides",
        )
    ]


def test_an_outage_that_is_told_beside_the_end_is_said(running_day: Days):
    day = running_day(STEPS, EARLY)
    out = (("B1", day.at("08:27"), day.at("08:50")),)
    found = day.mend("08:20:00", ended={BIKE: day.at("08:28:00")}, out_of_use=out)
    (words,) = [reason.message for reason in found.reasons]
    assert words.startswith("P1, short: bike is on B1 and lasts until 08:28, and B1 is out of use")


def test_a_bout_that_lasts_beyond_the_participants_hours_is_named_and_what_follows_left_out(
    running_day: Days,
):
    table = "participant,days,from,to\nP1,mon-fri,08:00,08:35"
    day = running_day(STEPS, EARLY, availability=table)
    found = day.mend("08:20:00", ended={BIKE: day.at("08:37:00")})
    assert steps_of(found)["bike"] == ("08:13:50", "08:37:00")
    assert "farewell" not in steps_of(found)
    assert over(found) == [
        (
            "bike",
            "P1, short until 08:37, and the participant may come 08:00 to 08:35: it has begun and stays as "
            "it was; the person in charge decides",
        )
    ]


def test_a_bout_that_lasts_beyond_closing_is_named(running_day: Days):
    day = running_day(STEPS, LATE)
    found = day.mend("13:40:00", ended={BIKE: day.at("14:02:00")})
    assert steps_of(found)["bike"] == ("13:33:50", "14:02:00")
    words = " ".join(text for _, text in over(found))
    assert "clearing included, until 14:05, and the laboratory is open 08:00 to 14:00" in words
    assert "(step bike) until 14:02, and K2 is not on shift" in words
    assert "(step bike), staying until 14:07, and K3 is not on shift" in words


def test_who_stays_in_their_break_with_nobody_else_free_is_named(running_day: Days):
    day = running_day(STEPS, EARLY, breaks={"K2": "08:29-08:44", "K3": "08:29-08:44"})
    found = day.mend("08:20:00", ended={BIKE: day.at("08:27:00")})
    assert [c.kind for c in found.changes if c.kind == "dropped"] == []
    (named,) = over(found)
    assert named[0] == "bike"
    assert "(step bike), staying until 08:32, and K3 has a break" in named[1]


@pytest.mark.parametrize("end", ["08:24:00", "08:25:00"])
def test_an_end_before_the_break_is_no_matter(running_day: Days, end: str):
    day = running_day(STEPS, EARLY, breaks={"K2": "08:25-08:40"})
    assert over(day.mend("08:20:00", ended={BIKE: day.at(end)})) == []


def test_it_stays_named_when_the_plan_is_mended_again(running_day: Days):
    day = running_day(STEPS, EARLY, breaks={"K2": "08:25-08:40"})
    day.plan = day.mend("08:20:00", ended={BIKE: day.at("08:27:00")})
    found = day.mend("08:28:00", absent=(("K4", day.at("08:28"), day.at("14:00")),))
    assert [step for step, _ in over(found)] == ["bike"]


def test_the_judge_refuses_it_unnamed(running_day: Days):
    from dataclasses import replace

    day = running_day(STEPS, EARLY, breaks={"K2": "08:25-08:40"})
    found = day.mend("08:20:00", ended={BIKE: day.at("08:27:00")})
    silent = replace(found, changes=tuple(one for one in found.changes if one.kind != RUNS_OVER))
    assert {one.rule for one in verify(silent, day.study, day.plans).broken} == {"break"}
    assert "break" in {one.rule for one in verify(found, day.study, day.plans).warnings}
