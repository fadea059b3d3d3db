"""What a plan says of itself: every false claim is refused by name."""

from dataclasses import replace

import pytest

from planner.schedule.model import NotPlaced, Outcome, Reason, Stage
from planner.schedule.verify import verify

OPTIMAL, FEASIBLE, IMPOSSIBLE = Outcome.OPTIMAL, Outcome.FEASIBLE, Outcome.IMPOSSIBLE
STAGES = (
    Stage("placed", 6, 6, OPTIMAL),
    Stage("last_day", 3, 3, OPTIMAL),  # Wednesday is closed, so Thursday is the earliest for a third visit
    Stage("waiting_s", 0, 0, OPTIMAL),
)


@pytest.fixture
def proven(good):
    """The good plan, which is also the best one."""
    return replace(good, status=OPTIMAL, stages=STAGES)


def rules(verdict):
    return [one.rule for one in verdict.broken]


def with_stage(plan, number, **fields):
    stages = list(plan.stages)
    stages[number] = replace(stages[number], **fields)
    return replace(plan, stages=tuple(stages))


def test_a_true_optimum_is_believed(proven, study, plans):
    assert verify(proven, study, plans).broken == ()


@pytest.mark.parametrize(("number", "value"), [(0, 5), (1, 2), (2, 60)])
def test_a_value_that_the_plan_does_not_have(proven, study, plans, number, value):
    spoiled = with_stage(replace(proven, status=FEASIBLE), number, value=value, bound=value)
    assert rules(verify(spoiled, study, plans)) == ["stage-value"]


@pytest.mark.parametrize(("number", "bound"), [(0, 5), (1, 4), (2, 1)])
def test_a_bound_on_the_wrong_side(proven, study, plans, number, bound):
    spoiled = with_stage(replace(proven, status=FEASIBLE), number, bound=bound, status=FEASIBLE)
    assert rules(verify(spoiled, study, plans)) == ["bound"]


def test_more_than_asked_cannot_be_placed(proven, study, plans):
    spoiled = with_stage(replace(proven, status=FEASIBLE), 0, bound=7, status=FEASIBLE)
    assert rules(verify(spoiled, study, plans)) == ["bound"]


def test_a_stage_called_optimal_without_meeting_its_bound(proven, study, plans):
    spoiled = with_stage(proven, 1, bound=2)
    assert rules(verify(spoiled, study, plans)) == ["false-optimal"]


def test_a_plan_called_optimal_with_an_open_stage(proven, study, plans):
    spoiled = with_stage(proven, 2, bound=0, status=FEASIBLE)
    assert rules(verify(spoiled, study, plans)) == ["false-optimal"]


def test_a_plan_called_optimal_without_all_stages(proven, study, plans):
    spoiled = replace(proven, stages=proven.stages[:1])
    assert rules(verify(spoiled, study, plans)) == ["false-optimal"]


def test_a_plan_called_optimal_that_leaves_somebody_out(proven, study, plans, tools):
    left = tools.Spoil(proven).without("ROW-02", "rowing-2")
    left = replace(left, not_placed=(NotPlaced("ROW-02", "rowing-2", "no room"),))
    left = with_stage(left, 0, value=5, bound=5)
    assert rules(verify(left, study, plans)) == ["false-optimal"]


def test_impossible_where_all_are_placed(proven, study, plans):
    spoiled = replace(proven, status=IMPOSSIBLE, reasons=(Reason("no room"),))
    assert rules(verify(spoiled, study, plans)) == ["false-impossible"]


def test_impossible_needs_a_reason(proven, study, plans, tools):
    left = tools.Spoil(proven).without("ROW-02", "rowing-2")
    left = replace(with_stage(left, 0, value=5, bound=5), status=IMPOSSIBLE)
    named = replace(left, not_placed=(NotPlaced("ROW-02", "rowing-2", "no room"),))
    assert rules(verify(left, study, plans)) == ["all-asked", "false-impossible"]
    assert verify(replace(named, reasons=(Reason("no room"),)), study, plans).broken == ()
    assert rules(verify(with_stage(named, 0, bound=6, status=FEASIBLE), study, plans)) == ["false-impossible"]


def test_versions(proven, study, plans):
    assert rules(verify(replace(proven, version=2, replaces=2), study, plans)) == ["version"]
    assert rules(verify(replace(proven, version=0), study, plans)) == ["version"]
    assert verify(replace(proven, version=2, replaces=1), study, plans).broken == ()


def test_an_unknown_stage_is_a_warning(proven, study, plans):
    verdict = verify(replace(proven, stages=(*STAGES, Stage("beauty", 9, 9, OPTIMAL))), study, plans)
    assert verdict.broken == ()
    assert [one.rule for one in verdict.warnings] == ["stage-value"]
