"""Whole days through the judge: every rule of the formats holds in what is packed, whatever is asked."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from planner.clock import Interval, later
from planner.packing.day import pack_day
from planner.packing.problem import DayProblem, key
from planner.packing.progress import Progress
from planner.schedule.model import Outcome
from planner.study.model import Wish

Make = Callable[..., DayProblem]
Judge = Callable[..., list[str]]
SOON = 2  # seconds: every stage of a day has its turn, and no test waits for a proof


@pytest.mark.parametrize("count", [1, 2, 5])
def test_a_day_of_everything_keeps_every_rule(rich_day: Make, judged: Judge, count: int) -> None:
    problem = rich_day(count)
    result = pack_day(problem, seconds=SOON)
    assert len(result.visits) == count
    assert judged(problem, result) == []
    assert result.stages[0].status is Outcome.OPTIMAL


@pytest.mark.parametrize(
    "changes",
    [
        {
            "keep_same: {within_visit: [operator]}": "keep_same: {within_visit: [spirometer, meter]}",
            "meter: [M1, X1]": "meter: [M1, M2]",
        },
        {"ergometer: [E1]": "ergometer: [E1, X1]"},
        {"K4,support;cleaner;lead": "K4,support"},
        {'08:00-16:00"}': '08:00-12:00"}', "R02,mon,12:00,15:00": "R02,mon,10:30,12:00"},
        {"watch: {staff: lead, for: 6 min}": "watch: {staff: [lead, support], for: 12 min}"},
        {"clear: {takes: 3 min, staff: cleaner}": "clear: {takes: 3 min, staff: [lead, cleaner]}"},
        {"staff: lead\n    effort": "staff: [lead, support]\n    effort"},
        {
            "time_zone: Europe/Oslo": "time_zone: Europe/Oslo\nseed: 5",
            "rig: spirometer\n": "rig: [spirometer]\n",
        },
    ],
)
def test_other_demands_are_kept_as_well(rich_day: Make, judged: Judge, changes: dict[str, str]) -> None:
    problem = rich_day(4, changes)
    result = pack_day(problem, seconds=SOON, stages=("placed", "waiting_s"))
    assert judged(problem, result) == []
    assert result.visits


def test_who_stays_after_the_bout_may_clear_its_rig_meanwhile(rich_day: Make, judged: Judge) -> None:
    """There is one cleaner, and both are a cleaner's: it is the same participant."""
    changes = {
        "watch: {staff: lead, for: 6 min}": "watch: {staff: cleaner, for: 6 min}",
        "K4,support;cleaner;lead": "K4,support;lead",
    }
    problem = rich_day(1, changes)
    for stages in (("placed",), ("placed", "waiting_s")):
        result = pack_day(problem, seconds=SOON, stages=stages)
        assert judged(problem, result) == []
        (visit,) = result.visits
        (row,) = (one for one in visit.activities if one.step == "row" and one.watch)
        assert row.clear_staff == row.watch.staff == {"cleaner": "K3"}


def test_a_rig_in_two_classes_is_one_rig(rich_day: Make, judged: Judge) -> None:
    problem = rich_day(3, {"[S1, S2, X1]": "[S1, X1]", "[M1, X1]": "[X1]"})
    result = pack_day(problem, seconds=SOON)
    assert judged(problem, result) == []
    assert {
        activity.rigs for visit in result.visits for activity in visit.activities if len(activity.rigs) == 2
    } <= {("X1", "S1")}


def test_fixed_visits_stay_and_only_occupy(rich_day: Make, judged: Judge) -> None:
    problem = rich_day(4)
    first = pack_day(replace(problem, visits=problem.visits[:2]), seconds=SOON)
    rest = replace(problem, visits=problem.visits[2:], frozen=first.visits, frozen_tasks=first.rig_tasks)
    result = pack_day(rest, seconds=SOON)
    assert {visit.participant for visit in result.visits} == {"R03", "R04"}
    assert judged(rest, result) == []


def test_start_windows_and_allowed_rigs_and_people(rich_day: Make, judged: Judge) -> None:
    problem = rich_day(2)
    opening = problem.study.open[problem.day][0].start
    wanted = problem.visits[0]
    result = pack_day(
        replace(
            problem,
            start_windows={key(wanted): (Interval(later(opening, 3600), later(opening, 3600)),)},
            allowed_rigs={(key(wanted), "spirometer"): ("S2",)},
            allowed_people={(key(wanted), "operator"): ("K1",)},
        ),
        seconds=SOON,
    )
    (visit,) = [visit for visit in result.visits if visit.participant == wanted.participant]
    assert visit.start == opening + timedelta(hours=1)
    assert {rig for activity in visit.activities for rig in activity.rigs if rig.startswith("S")} == {"S2"}
    assert {a.staff["operator"] for a in visit.activities if "operator" in a.staff} == {"K1"}
    assert judged(problem, result) == []


def test_a_visit_fixed_to_a_person_and_a_rig(rich_day: Make, judged: Judge) -> None:
    problem = rich_day(2)
    wishes = (Wish("R01", None, rig="S2"), Wish("R02", None, person="K2"))
    wished = replace(problem, study=replace(problem.study, wishes=wishes))
    result = pack_day(wished, seconds=SOON)
    by_participant = {visit.participant: visit for visit in result.visits}
    rigs = {rig for activity in by_participant["R01"].activities for rig in activity.rigs}
    assert rigs & {"S1", "S2", "X1"} == {"S2"} or rigs & {"S1"} == set()
    served = [a for a in by_participant["R02"].activities if set(a.staff) & {"operator", "lead", "support"}]
    assert all("K2" in activity.staff.values() for activity in served)
    assert judged(wished, result) == []


def test_visits_that_must_come_and_cannot_are_proven_so(rich_day: Make) -> None:
    short = {'"08:00-16:00"}': '"08:00-09:00"}', 'start: "08:00-14:00"': 'start: "08:00-09:00"'}
    problem = rich_day(3, {**short, "R02,mon,12:00,15:00": "R02,mon,08:00,09:00"})
    result = pack_day(replace(problem, must=frozenset(problem.visits)), seconds=20, stages=("placed",))
    assert result.status is Outcome.IMPOSSIBLE
    assert len(result.visits) == result.stages[0].bound < 3
    assert set(result.must_left_out) == {v for v in problem.visits if key(v) not in map(key, result.visits)}


def test_nobody_can_come_on_a_closed_day(rich_day: Make) -> None:
    problem = rich_day(2)
    result = pack_day(replace(problem, day=problem.day + timedelta(days=1)), seconds=2)
    assert result.visits == ()
    assert result.stages[0].bound == 0
    assert result.not_placed == problem.visits


def test_nothing_asked_is_an_empty_day(rich_day: Make) -> None:
    problem = rich_day(1)
    result = pack_day(replace(problem, visits=()), seconds=2)
    assert (result.visits, result.not_placed, result.proven) == ((), (), True)


def test_one_worker_and_one_seed_give_one_day(rich_day: Make) -> None:
    problem = rich_day(3)
    one, two = (pack_day(problem, seconds=2, workers=1, seed=7) for _ in range(2))
    assert one.visits == two.visits
    assert one.stages == two.stages


def test_a_hint_is_kept_where_nothing_better_is_found(rich_day: Make) -> None:
    problem = rich_day(4)
    good = pack_day(problem, seconds=4, stages=("placed", "waiting_s"))
    again = pack_day(problem, seconds=0.2, stages=("placed", "waiting_s"), hint=good.visits)
    values = [[stage.value for stage in result.stages] for result in (good, again)]
    assert values[1][0] == values[0][0]


def test_a_hint_that_breaks_a_rule_is_not_taken_over(rich_day: Make, judged: Judge) -> None:
    problem = rich_day(2)
    good = pack_day(problem, seconds=3, stages=("placed",))
    a, b = good.visits
    shift = a.start - b.start
    moved = tuple(
        replace(
            activity,
            start=activity.start + shift,
            end=activity.end + shift,
            rig_free=activity.rig_free + shift,
            first_effort=activity.first_effort and activity.first_effort + shift,
        )
        for activity in b.activities
    )
    both_at_once = (a, replace(b, activities=moved))
    result = pack_day(problem, seconds=3, stages=("placed",), hint=both_at_once)
    assert judged(problem, result) == []
    assert len(result.visits) == 2


def test_stop_keeps_the_best_and_progress_is_told(rich_day: Make, judged: Judge) -> None:
    problem = rich_day(5)
    told: list[Progress] = []
    began = time.monotonic()
    result = pack_day(problem, seconds=60, progress=told.append, stop=lambda: time.monotonic() - began > 1)
    assert judged(problem, result) == []
    assert result.visits
    assert told
    assert told[-1].placed == len(result.visits)


def test_a_guard_is_kept_before_each_windowed_block(rich_day: Make, judged: Judge) -> None:
    problem = rich_day(3, guard_s=60)
    result = pack_day(problem, seconds=SOON)
    assert judged(problem, result) == []
    (plan,) = problem.plans.values()
    held = {window.later.activity for window in plan.windows}
    by_key = {(a.step, a.at_s, a.manoeuvre): a for a in plan.activities}
    served = [
        (person, activity, by_key[activity.step, activity.at_s, activity.manoeuvre].index in held)
        for visit in result.visits
        for activity in visit.activities
        for person in activity.staff.values()
    ]
    for person, block, is_held in served:
        ends = [a.end for who, a, _ in served if who == person and a.start < block.start]
        if is_held and ends and by_key[block.step, block.at_s, block.manoeuvre].inside is None:
            assert (block.start - max(ends)).total_seconds() >= 60


def test_the_laboratorys_own_limit_is_a_rule_and_a_bound(rich_day):
    problem = rich_day(count=4)
    problem = replace(problem, study=replace(problem.study, at_most_visits_a_day=2))
    result = pack_day(problem, seconds=SOON)
    assert len(result.visits) == 2
    assert (result.stages[0].value, result.stages[0].bound) == (2, 2)
    assert len(result.not_placed) == len(problem.visits) - 2
