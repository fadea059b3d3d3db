"""No plan has a visit without those of the participant that come before it: nobody exercises unpractised."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.packing.ahead import ahead_first, only_in_turn, out_of_turn
from planner.packing.core import Core
from planner.packing.day import pack_day
from planner.packing.greedy import greedy, refill
from planner.packing.model import keeps_rules
from planner.packing.pack import pack
from planner.packing.problem import DayProblem
from planner.packing.translate import translate
from planner.schedule.model import Broken, Outcome, Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study

Write = Callable[..., Study]
NOW = datetime(2027, 1, 4, 8, tzinfo=UTC)


def _packed(study: Study, seconds: float = 2) -> Schedule:
    return pack(study, visit_plans(study), seconds=seconds, now=NOW, workers=1)


def _skipped(made: Schedule, study: Study) -> list[Broken]:
    """What the judge says of visits that skip one before them; anything refused fails."""
    verdict = verify(made, study, visit_plans(study))
    assert not verdict.broken
    return [one for one in verdict.warnings if one.rule == "skipped"]


def _day(study: Study) -> tuple[DayProblem, Core]:
    (day,) = study.open
    visits = tuple(visit for asked in study.asked.values() for visit in asked)
    problem = DayProblem(study, visit_plans(study), day, visits)
    return problem, translate(problem)[0]


def test_a_short_visit_that_needs_a_long_one_first_does_not_come_alone(one_bench: Write, tmp_path: Path):
    """Two hours: both short last visits fit, and only one of the long first ones."""
    study = one_bench(tmp_path, minutes=(70, 30), closes="10:00")
    made = _packed(study)
    assert [(v.participant, v.file_id) for v in made.visits] == [("P1", "step-1"), ("P1", "step-2")]
    assert not _skipped(made, study)
    placed = next(stage for stage in made.stages if stage.name == "placed")
    assert placed.value == placed.bound == 2, "as many as can come in turn, and proven"


def test_nobody_comes_behind_a_visit_that_cannot_come_at_all(one_bench: Write, tmp_path: Path):
    """The first visit is longer than the day."""
    study = one_bench(tmp_path, minutes=(130, 20, 20), closes="10:00")
    made = _packed(study)
    assert made.placed == 0
    assert made.status is Outcome.IMPOSSIBLE


def test_nor_on_the_day_of_one_that_must_lie_days_before(one_bench: Write, tmp_path: Path):
    study = one_bench(tmp_path, minutes=(60, 20, 20), closes="12:00", gap="{at_least: 1 d}")
    made = _packed(study)
    assert {v.file_id for v in made.visits} == {"step-1"}
    assert made.placed == 2


def test_a_fixed_visit_waits_for_those_before_it_as_well(one_bench: Write, tmp_path: Path):
    """Its start leaves no room for the first visit of P1; P2 takes the place."""
    study = one_bench(tmp_path, minutes=(40, 40), fixed=["P1,step-2,,2027-03-01T08:30,,"])
    made = _packed(study)
    assert [(v.participant, v.file_id) for v in made.visits if v.participant == "P2"] == [
        ("P2", "step-1"),
        ("P2", "step-2"),
    ]
    assert not _skipped(made, study)


def test_a_first_plan_brings_those_ahead_in_first(one_bench: Write, tmp_path: Path):
    """The later visit is the tighter one; put in first it would keep its own first one out."""
    _, core = _day(one_bench(tmp_path, minutes=(50, 60), people=3, closes="10:00"))
    for rounds in (1, 2, 6):
        found = greedy(core, rounds=rounds, seconds=None)
        assert found.placed(core) == 2
        assert not out_of_turn(core, found.starts)
        assert keeps_rules(core, found)


def test_what_fills_up_a_day_keeps_to_the_turn(one_bench: Write, tmp_path: Path):
    _, core = _day(one_bench(tmp_path, minutes=(20, 30)))
    nothing = greedy(core, rounds=0, seconds=None)
    assert refill(core, nothing, [1]).placed(core) == 0
    assert refill(core, nothing, [1, 0]).placed(core) == 2
    whole = refill(core, nothing, core.visits())
    gone = [None if j == 0 else starts for j, starts in enumerate(whole.starts)]
    assert out_of_turn(core, gone) == {1}
    assert ahead_first(core, [3, 1, 0]) == [3, 0, 1]


def test_a_day_is_told_apart_only_where_somebody_cannot_come(one_bench: Write, tmp_path: Path):
    _, core = _day(one_bench(tmp_path))
    assert only_in_turn(core) is core


@pytest.mark.parametrize("workers", [1, 2])
def test_a_fuller_day_in_turn_is_found(one_bench: Write, tmp_path: Path, workers: int):
    """Four hours of 20 and 40 minutes: four participants whole, and nobody's second visit alone."""
    problem, _ = _day(one_bench(tmp_path, minutes=(40, 20), people=9, closes="12:00"))
    result = pack_day(problem, seconds=3, stages=("placed",), workers=workers)
    names = {(v.participant, v.file_id) for v in result.visits}
    assert len(names) == 8
    assert all((who, "step-1") in names for who, name in names if name == "step-2")


lengths = st.lists(st.sampled_from([10, 25, 40, 70, 130]), min_size=2, max_size=3)
gaps = st.sampled_from(["{at_least: 0 d}", "{at_least: 0 d, at_most: 1 d}", "{at_least: 1 d}"])
rules = st.sampled_from(["", "same_time_of_day: 30 min\n", "at_most_visits_a_day: 3\n"])
lines = st.lists(
    st.tuples(st.integers(1, 3), st.sampled_from(["mon", "tue", "mon-sun"]), st.integers(8, 9)), max_size=3
)
fixings = st.lists(
    st.tuples(st.integers(1, 3), st.integers(1, 2), st.integers(0, 50)), max_size=2, unique_by=lambda x: x[0]
)


@settings(max_examples=20)
@given(lengths, st.integers(1, 4), st.integers(1, 3), gaps, rules, lines, fixings)
def test_no_plan_of_a_study_that_is_too_full_skips_a_visit(
    one_bench: Write,
    tmp_path_factory: pytest.TempPathFactory,
    minutes,
    people,
    days,
    gap,
    more,
    lines,
    fixings,
):
    study = one_bench(
        tmp_path_factory.mktemp("full"),
        minutes=minutes,
        people=people,
        days=days,
        gap=gap,
        more=more,
        fixed=[f"P{who},step-{n},,2027-03-01T08:{m:02},," for who, n, m in fixings if who <= people],
        available=[f"P{who},{on},{at:02}:00,10:00" for who, on, at in lines if who <= people],
    )
    made = _packed(study, 1)
    assert not _skipped(made, study)
    assert len(made.not_placed) == made.asked - made.placed
