"""What a plan says of itself: values recomputed, bounds on the right side, no false `optimal`."""

from __future__ import annotations

from collections.abc import Iterator

from planner.schedule.change_values import CHANGE_STAGES
from planner.schedule.model import Broken, Outcome, Stage
from planner.schedule.rules.case import Case
from planner.schedule.values import BEST_IS_MOST, KNOWN, stage_values


def misread(case: Case) -> Iterator[Broken]:
    """What the plan file says twice, and differently."""
    yield from case.schedule.misread


def values(case: Case) -> Iterator[Broken]:
    """Each stage's value is what the plan's own times give."""
    names = [stage.name for stage in case.schedule.stages]
    found = stage_values(case.schedule, case.study, case.plans, names)
    for stage in case.schedule.stages:
        if stage.name in found and stage.value != found[stage.name]:
            words = f"stage {stage.name} says {stage.value}, and the plan's times give {found[stage.name]}"
            yield Broken("stage-value", None, None, words)


def bounds(case: Case) -> Iterator[Broken]:
    """A bound lies on the better side of its value, and no visit more can be placed than is asked for."""
    for stage in case.schedule.stages:
        if _is_beyond(stage):
            words = f"stage {stage.name}: the value {stage.value} is better than its own bound {stage.bound}"
            yield Broken("bound", None, None, words)
        if stage.name == "placed" and stage.bound > case.schedule.asked:
            words = (
                f"at most {stage.bound} are said to fit, and only {case.schedule.asked} visits are asked for"
            )
            yield Broken("bound", None, None, words)


def _is_beyond(stage: Stage) -> bool:
    return stage.value > stage.bound if stage.name in BEST_IS_MOST else stage.value < stage.bound


def optimal(case: Case) -> Iterator[Broken]:
    """`optimal` only where value and bound meet: in a stage, and for the plan in every stage."""
    schedule = case.schedule
    for stage in schedule.stages:
        if stage.status is Outcome.OPTIMAL and stage.value != stage.bound:
            words = f"stage {stage.name} is called optimal: value {stage.value}, bound {stage.bound}"
            yield Broken("false-optimal", None, None, words)
    if schedule.status is not Outcome.OPTIMAL:
        return
    open_stages = [stage.name for stage in schedule.stages if stage.status is not Outcome.OPTIMAL]
    if open_stages:
        words = f"the plan is called optimal, and {', '.join(open_stages)} is not proven"
        yield Broken("false-optimal", None, None, words)
    lacking = [name for name in _stages_needed(case) if name not in _named(case)]
    if lacking:
        words = f"the plan is called optimal, and says nothing of {', '.join(lacking)}"
        yield Broken("false-optimal", None, None, words)
    if schedule.placed < schedule.asked:
        words = f"the plan is called optimal, and places {schedule.placed} of {schedule.asked} visits"
        yield Broken("false-optimal", None, None, words)


def _stages_needed(case: Case) -> list[str]:
    if case.schedule.replaces is not None and not set(CHANGE_STAGES).isdisjoint(_named(case)):
        return ["placed", *CHANGE_STAGES]  # a mended plan is asked for few changes, not for little waiting
    several = len(case.study.open) > 1
    return ["placed", *(["last_day"] if several else []), "waiting_s"]


def _named(case: Case) -> set[str]:
    return {stage.name for stage in case.schedule.stages}


def impossible(case: Case) -> Iterator[Broken]:
    """`impossible` only where some visit has no place, the bound says so, and a reason is given."""
    schedule = case.schedule
    if schedule.status is not Outcome.IMPOSSIBLE:
        return
    placed = next((stage for stage in schedule.stages if stage.name == "placed"), None)
    if schedule.placed >= schedule.asked or (placed and placed.bound >= schedule.asked):
        words = "the plan is called impossible, and does not say that a visit cannot be placed"
        yield Broken("false-impossible", None, None, words)
    elif not schedule.reasons and not schedule.not_placed:
        yield Broken("false-impossible", None, None, "the plan is called impossible without a reason")


def version(case: Case) -> Iterator[Broken]:
    """Versions count upwards from 1; a plan replaces an earlier one."""
    schedule = case.schedule
    if schedule.version < 1:
        yield Broken("version", None, None, f"the version is {schedule.version}; versions count from 1")
    if schedule.replaces is not None and schedule.replaces >= schedule.version:
        words = f"version {schedule.version} cannot replace version {schedule.replaces}"
        yield Broken("version", None, None, words)


def fingerprint(case: Case) -> Iterator[Broken]:
    """A warning where the study's files are no longer those that the plan was made from."""
    if case.schedule.fingerprint != case.study.fingerprint:
        yield Broken("fingerprint", None, None, "files changed since this plan was made")


def stages_known(case: Case) -> Iterator[Broken]:
    """A warning for stages that cannot be recomputed here."""
    for stage in case.schedule.stages:
        if stage.name not in KNOWN:
            yield Broken("stage-value", None, None, f"stage {stage.name} is not known and was not recomputed")


RULES = (misread, values, bounds, optimal, impossible, version)
