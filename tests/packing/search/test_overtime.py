"""A day with hours after its end: a visit that is in time again is so with its clearing."""

from __future__ import annotations

import pytest

from planner.packing.core import Core, Gap, Job, Resource, Use, Wants
from planner.packing.search.overtime import long_day

CLOSE = 100


def day(tail: int, last: int, wants: Wants = Wants.RIG) -> Core:
    """One visit of 10 steps and then 5, whose use has a tail after activity `last`."""
    job = Job("A", (10, 5), (Gap(0, 1, 10),), (), ((0, CLOSE),), ((0, CLOSE),), 0, 1, 15, None, must=False)
    use = Use(0, wants, "spirometer", last, last, tail, (0,))
    rig = Resource("S1", wants is Wants.CLEARING, frozenset({"spirometer"}), ((0, CLOSE),))
    return Core(1, CLOSE, (job,), ((use,),), (rig,))


@pytest.mark.parametrize("wants", [Wants.RIG, Wants.CLEARING])
@pytest.mark.parametrize(("tail", "last", "due"), [(0, 1, 100), (4, 1, 96), (4, 0, 100), (8, 0, 97)])
def test_a_rig_is_cleared_before_the_day_closes(wants: Wants, tail: int, last: int, due: int):
    assert long_day(day(tail, last, wants), 50).due == (due,)
