"""A day of which far more is asked than it can hold: packed from a few of each kind, the others named."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime

import pytest

from planner.clock import Interval
from planner.packing import pack as packing
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.days import comers as room
from planner.packing.days.comers import comers
from planner.packing.problem import DayProblem
from planner.packing.translate import translate
from planner.packing.why.case import Case
from planner.packing.why.explain import proofs
from planner.packing.why.oracle import Kind, Oracle
from planner.schedule.model import Outcome
from planner.schedule.verify import verify
from planner.study.model import Study, Wish

Made = Callable[..., DayProblem]
FREE = {"availability: availability.csv\n": ""}


def _mornings(study: Study, every: int) -> Study:
    """Every so manieth participant may come in the first four hours only."""
    (hours,) = study.open.values()
    early = Interval(hours[0].start, hours[0].start.replace(hour=12))
    return replace(study, available=dict.fromkeys(study.participants[::every], ((early, None),)))


def test_few_are_all_handed_on(rich_day: Made) -> None:
    problem = rich_day(room.ALL, FREE)
    assert comers(problem.study, problem.day, 5) == room.Comers(problem.visits, is_exact=True)


def test_of_each_kind_so_many_as_could_fit_come_in_the_order_listed(rich_day: Made) -> None:
    problem = rich_day(80, FREE)
    found = comers(_mornings(problem.study, 4), problem.day, 7)
    assert found.is_exact
    names = [visit.participant for visit in found.visits]
    mornings = [f"R{n:02}" for n in range(1, 81, 4)]
    others = [f"R{n:02}" for n in range(1, 81) if f"R{n:02}" not in mornings]
    assert names == sorted([*mornings[:7], *others[:7]])


def test_who_is_fixed_comes_first_and_who_is_like_no_other_is_not_cut_in_silence(
    rich_day: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, "MOST", 10)
    problem = rich_day(80, FREE)
    fixed = replace(problem.study, wishes=(Wish("R80", None, problem.day, None, None, None),))
    found = comers(fixed, problem.day, 20)
    assert [visit.participant for visit in found.visits] == [*(f"R{n:02}" for n in range(1, 10)), "R80"]
    assert not found.is_exact


def test_the_day_is_packed_from_few_and_the_bound_holds_for_all(
    rich_day: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The work is counted: the day's model holds no more visits than could ever fit."""
    seen: list[int] = []
    plain = packing.pack_day

    def counted(problem: DayProblem, **given: object) -> object:
        seen.append(len(problem.visits))
        return plain(problem, **given)  # type: ignore[arg-type]

    monkeypatch.setattr(packing, "pack_day", counted)
    problem = rich_day(300, FREE)
    most = Bounds(problem.study, problem.plans).most_placed()
    made = packing.pack(problem.study, problem.plans, seconds=4, now=datetime.now(problem.study.zone))
    assert max(seen) == most < 60
    placed = made.stages[0]
    assert (placed.name, placed.value) == ("placed", made.placed)
    assert made.placed >= 8
    assert made.placed <= placed.bound <= most
    assert made.status is Outcome.IMPOSSIBLE
    assert len(made.not_placed) == 300 - made.placed
    assert all(one.message for one in made.not_placed)
    assert not verify(made, problem.study, problem.plans).broken


def test_bounds_of_a_few_are_not_those_of_all(rich_day: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(room, "ALL", 1)
    monkeypatch.setattr(room, "MOST", 2)
    problem = rich_day(5, FREE)
    made = packing.pack(problem.study, problem.plans, seconds=6, now=datetime.now(problem.study.zone))
    assert made.placed > 2  # those whom the day was not packed from are put in as well
    assert made.stages[0].bound == 5
    assert not verify(made, problem.study, problem.plans).broken


def test_of_participants_who_are_alike_one_is_asked_for_all(
    rich_day: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = rich_day(50, FREE)
    asked: list[str] = []

    def impossible(_self: Oracle, _case: Case, name: str, _only: str | None = None) -> bool:
        asked.append(name)
        return True

    monkeypatch.setattr(Oracle, "row_is_impossible", impossible)
    found = proofs(Case(problem.study, problem.plans), problem.study.participants, Oracle(float("inf")))
    assert [proof.participants for proof in found] == [(name,) for name in problem.study.participants]
    assert {proof.kind for proof in found} == {Kind.ROW}
    assert asked == ["R01"]


def test_many_visits_are_compared_within_a_participant_only(
    rich_day: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    problem = rich_day(4, FREE)
    twice = (*problem.visits, *(replace(v, kind="again") for v in problem.visits))
    asked = {v.participant: (v, w) for v, w in zip(twice[:4], twice[4:], strict=True)}
    study = replace(problem.study, asked=asked)
    core, _ = translate(replace(problem, study=study, visits=twice[::-1]))
    assert sorted(core.in_turn) == [(4, 0), (5, 1), (6, 2), (7, 3)]
