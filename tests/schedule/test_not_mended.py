"""A plan that was handed back as it was says so, until it is mended."""

from __future__ import annotations

from planner.schedule.model import Reason
from planner.schedule.not_mended import is_not_mended


def test_only_what_says_that_the_plan_stands_is_no_mend():
    assert is_not_mended(Reason("no way was found to mend 2027-03-01: it stands as it was planned"))
    assert is_not_mended(
        Reason("the mended plan was refused, and the plan stands as it was: K1 is taken twice")
    )
    assert not is_not_mended(Reason("P1, long: bike has begun: it stays as it was; somebody must take over"))
