"""A plan that was handed over before its search was through says so, on the command line and the page."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from planner.commands.plan_words import plan_words
from planner.schedule.model import Outcome, Reason
from planner.schedule.time_ended import HEAD, is_time_ended, time_ended, time_ended_on

DAY = date(2027, 3, 1)


def test_only_what_says_that_the_time_ended_does():
    assert is_time_ended(time_ended_on(DAY))
    assert not is_time_ended(Reason("no place was found for it in the time"))


def test_the_first_line_says_that_the_time_ended_and_not_that_the_plan_works(good):
    plan = replace(good, status=Outcome.FEASIBLE)
    assert "The plan works" in plan_words(plan).splitlines()[0]
    cut = replace(plan, reasons=(time_ended_on(DAY),))
    assert time_ended(cut)
    assert not time_ended(plan)
    first, *others = plan_words(cut).splitlines()
    assert first.endswith(HEAD)
    assert f"  {time_ended_on(DAY).message}" in others
