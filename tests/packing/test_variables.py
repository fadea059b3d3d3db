"""What the solver may choose: each job wherever it fits, however short it is."""

from __future__ import annotations

from ortools.sat.python import cp_model

from planner.packing.core import EVER, Core, Job
from planner.packing.variables import add_variables


def test_a_visit_that_takes_no_time_may_start_at_the_very_end_of_the_day():
    """Ways of mending are tried with a step that takes none, and that may be all there is of a visit."""
    job = Job("visit", (0,), (), (), ((0, 12), (20, 24)), (EVER,), 0, 0, 0, None, must=False)
    v = add_variables(cp_model.CpModel(), Core(60, 24, (job,), ((),), ()))
    assert list(v.start[0][0].proto.domain) == [0, 12, 20, 24]
