"""Visitors without names: who is taken for whom, and that places are handed out to all who may come then."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from planner.packing.core import Answer, Core, Span
from planner.packing.greedy import greedy
from planner.packing.model import keeps_rules
from planner.packing.problem import DayProblem
from planner.packing.search.anyone import _joined, anyone
from planner.packing.translate import translate
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DAY = Path(__file__).parents[2] / "data" / "treadmill_day"
spans = st.lists(
    st.tuples(st.integers(0, 40), st.integers(1, 20)).map(lambda s: (s[0], s[0] + s[1])), min_size=1
)


@cache
def day() -> Core:
    """A day of seven visits that are alike in everything."""
    study = read_study(DAY)
    (date,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)
    core, _ = translate(DayProblem(study, visit_plans(study), date, visits[:7]))
    jobs = (replace(job, within=((0, core.horizon),), alike=job.alike and "all") for job in core.jobs)
    return replace(core, jobs=tuple(jobs))


def coming(core: Core, within: dict[int, tuple[Span, ...]]) -> Core:
    """The same day, some of whose visits may come only then."""
    jobs = (
        replace(job, within=within[j], alike=("only", within[j])) if j in within else job
        for j, job in enumerate(core.jobs)
    )
    return replace(core, jobs=tuple(jobs))


@cache
def packed() -> Answer:
    """The day of `day`, as the greedy packs it."""
    return greedy(day(), rounds=4, seconds=None)


def test_visits_alike_in_everything_need_no_names_taken_away() -> None:
    assert anyone(day()) is None


def test_who_is_like_no_other_keeps_their_own_times() -> None:
    core = coming(day(), {0: ((0, day().horizon // 2),)})
    alone = replace(core, jobs=(replace(core.jobs[0], alike=None), *core.jobs[1:]))
    assert anyone(alone) is None


def test_another_length_or_another_device_is_another_kind() -> None:
    core = coming(day(), {0: ((0, day().horizon // 2),)})
    longer = replace(core.jobs[0], lengths=(core.jobs[0].lengths[0] + 1, *core.jobs[0].lengths[1:]))
    assert anyone(core) is not None
    assert anyone(replace(core, jobs=(longer, *core.jobs[1:]))) is None
    use = core.uses[0][0]
    other = replace(use, choices=(len(core.resources) - 1,))
    assert other.choices != use.choices
    assert anyone(replace(core, uses=((other, *core.uses[0][1:]), *core.uses[1:]))) is None


def test_places_go_to_those_who_may_come_and_no_rule_is_broken() -> None:
    core, plan = day(), packed()
    here = sorted(
        (j for j in core.visits() if plan.starts[j]), key=lambda j: (plan.starts[j] or ())[core.jobs[j].first]
    )
    last = (plan.starts[here[-1]] or ())[core.jobs[0].first]
    early = dict.fromkeys(here[-2:], ((0, last),))  # those packed last may only come before the last begins
    named = coming(core, early)
    nameless = anyone(named)
    assert nameless is not None
    assert keeps_rules(nameless.core, plan)
    assert not keeps_rules(named, plan)
    found = nameless.with_names(plan)
    assert found is not None
    assert keeps_rules(named, found)
    assert found.placed(core) == plan.placed(core)
    assert sorted(s for s in found.starts if s) == sorted(s for s in plan.starts if s)


@given(st.lists(st.just((0.0, 1.0)) | st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=7, max_size=7))
def test_places_are_handed_out_just_where_every_few_of_them_suit_as_many(
    shares: list[tuple[float, float]],
) -> None:
    """Hall's theorem (1935, from memory), tried on every set of places."""
    core, plan = day(), packed()
    within = {
        j: ((int(min(pair) * core.horizon), int(max(pair) * core.horizon) + 1),)
        for j, pair in zip(core.visits(), shares, strict=True)
    }
    nameless = anyone(coming(core, within))
    if nameless is None:
        assert len(set(within.values())) == 1
        return
    places = [_span(core, plan, j) for j in core.visits() if plan.starts[j] is not None]
    suits = [
        {j for j, ((low, high),) in within.items() if low <= begin and end <= high} for begin, end in places
    ]
    sets = (few for size in range(1, len(places) + 1) for few in combinations(suits, size))
    found = nameless.with_names(plan)
    assert (found is not None) == all(len(set().union(*few)) >= len(few) for few in sets)
    if found is not None:
        assert keeps_rules(nameless.named, found)
        assert found.placed(core) == plan.placed(core)


def _span(core: Core, plan: Answer, j: int) -> Span:
    starts, job = plan.starts[j], core.jobs[j]
    assert starts is not None
    return starts[job.first], starts[job.last] + job.lengths[job.last]


@given(spans)
def test_joined_spans_hold_the_same_moments_and_lie_apart(given_spans: list[Span]) -> None:
    found = _joined(given_spans, apart=1)
    moments = {moment for low, high in given_spans for moment in range(low, high + 1)}
    assert {moment for low, high in found for moment in range(low, high + 1)} == moments
    assert all(a[1] + 1 < b[0] for a, b in pairwise(found))
