"""What a run of the solver may claim."""

from types import SimpleNamespace

from ortools.sat.python import cp_model

from planner.packing.solve import Proof, _outcome

NOTHING_FOUND = SimpleNamespace(answer=None, value=None, first_s=None)


def test_a_run_that_ends_before_it_knows_a_bound_claims_none():
    """The solver says 0 then, which for "as many visits as can be" would read: no visit fits."""
    for said, kept in ((0.0, None), (-7.0, -7)):
        solver = SimpleNamespace(best_objective_bound=said)
        run = _outcome(solver, cp_model.UNKNOWN, NOTHING_FOUND, True, False)
        assert (run.proof, run.bound) == (Proof.NOTHING, kept)
