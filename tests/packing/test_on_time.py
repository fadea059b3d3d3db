"""Packing for a chance, and what it costs: days whose answer can be worked out by hand.

The random block ends after two efforts (70 s) with probability erf(1/2), else after a third (130 s): see
`test_played`. Everything waits for one operator, who is due at a window 10 s before closing, 12 minutes
after opening.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import pytest

from planner.packing.budget import Budget
from planner.packing.chance.aiming import aim, aimed, told_ahead
from planner.packing.chance.on_time_days import Days
from planner.packing.chance.slack import Slack, Worth
from planner.packing.chance.steady import SteadyDay, held, own_room, with_tasks
from planner.packing.chance.turns import apart, spans
from planner.packing.core import Wants
from planner.packing.day import pack_day
from planner.packing.on_time import pack_on_time
from planner.packing.pack import pack, running_from
from planner.packing.play import Cast, play
from planner.packing.problem import DayProblem, key
from planner.packing.progress import Progress
from planner.packing.realise import as_answer
from planner.packing.translate import translate
from planner.schedule.model import Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

SMALL = Path(__file__).parents[1] / "data" / "small"
NOW = datetime(2027, 2, 20, tzinfo=UTC)
SOON = math.erf(0.5)
BLOWS = """
format: 1
name: blows
title: A block of random length
version: "1"
manoeuvres:
  blow:
    title: Blow
    rig: meter
    staff: operator
    effort: 10 s
    rest: 50 s
    efforts: {at_least: 2, at_most: 3}
    enough: [{reading: P, any: 2, within: 10 cmH2O}]
    readings: {P: {unit: cmH2O, typical: 100 cmH2O, spread: 10 cmH2O}}
visit: [{id: first, title: Blow, measure: [blow]}]
"""
DUE = """
format: 1
name: due
title: A block that is due after rowing
version: "1"
manoeuvres:
  puff: {title: Puff, rig: meter, staff: operator, effort: 10 s, efforts: 1}
visit:
  - {id: row, title: Row, exercise: true, takes: 10 min 50 s, rig: ergometer, staff: lead}
  - {id: after, title: After, measure: [puff], due: {after: row, at: 1 min, late: 90 s}}
"""
STUDY = """
format: 1
name: by-hand
time_zone: Europe/Oslo
plan_on: 50 %
visits: [{id: only, protocol: {a: blows.yaml, b: due.yaml}}]
days: {from: 2027-03-01, to: 2027-03-01, open: {mon: "08:00-08:12"}}
rigs: {meter: [M1, M2, M3], ergometer: [E1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
"""


@pytest.fixture
def laboratory(tmp_path: Path) -> Callable[..., Study]:
    """A function that makes days of twelve minutes: so many random blocks, and one that is due."""

    def make(blows: int, days: int = 1) -> Study:
        names = [f"A{n}" for n in range(1, blows + 1)]
        for name, text in {
            "blows.yaml": BLOWS,
            "due.yaml": DUE,
            "study.yaml": STUDY.replace("to: 2027-03-01", f"to: 2027-03-{7 * days - 6:02}"),
            "staff.csv": "person,roles\nK1,operator\nK2,lead\n",
            "shifts.csv": "person,days,from,to,breaks\nK1,mon,08:00,09:00,\nK2,mon,08:00,09:00,\n",
            "participants.csv": "\n".join(["participant,group", *(f"{n},a" for n in names), "B1,b", ""]),
        }.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        return read_study(tmp_path)

    return make


def packed(study: Study, chance: float, **given: object) -> Schedule:
    plans = visit_plans(study)
    common = {"seconds": 8, "now": NOW, "version": 1, "late_sd_s": 0, "workers": 1}
    made = pack_on_time(study, plans, chance=chance, **{**common, **given})  # type: ignore[arg-type]
    assert not verify(made, study, plans).broken
    assert made.placed + len(made.not_placed) == made.asked
    return made


def test_where_there_is_room_nobody_is_left_out(laboratory: Callable[[int], Study]) -> None:
    """Five blocks of 70 s leave five minutes before the window: all five may take a third effort."""
    study = laboratory(5)
    made = packed(study, 0.95)
    assert made.placed == 6
    odds = play(study, visit_plans(study), made, late_sd_s=0)
    assert odds.share == 1.0


def test_the_chance_decides_whether_a_place_is_given_up(laboratory: Callable[[int], Study]) -> None:
    """Seven blocks of 70 s leave 220 s, and the window 90 s: five third efforts are not too many, six are.

    P(at most 5 of 7) = 0.950. At 93 % all eight visits stay; at 97 % one goes.
    """
    q = 1 - SOON
    kept = 1 - 7 * q**6 * SOON - q**7
    assert 0.94 < kept < 0.96
    study = laboratory(7)
    made = packed(study, 0.93)
    assert made.placed == 8
    odds = play(study, visit_plans(study), made, late_sd_s=0)
    assert odds.least is not None
    assert odds.least.all_windows == pytest.approx(kept, abs=0.02)
    fewer = packed(study, 0.97)
    assert fewer.placed == 7
    assert any("1 fewer found in this time" in reason.message for reason in fewer.reasons)


def test_what_is_asked_is_aimed_at_where_a_visit_is_sure_alone(laboratory: Callable[[int], Study]) -> None:
    assert aimed(1.0, 0.99) == 0.99
    assert aimed(0.95, 0.9) == 0.9
    assert aimed(0.95, 0.99) == pytest.approx(0.93)
    study = laboratory(2)
    assert list(told_ahead(study, visit_plans(study), 0.9999)) == []
    made = packed(study, 0.9999, seconds=3)
    assert any("Asked for" in reason.message and "99.99 %" in reason.message for reason in made.reasons)
    assert not any("2 points" in reason.message for reason in made.reasons)


def test_what_the_protocol_leaves_no_room_for_is_said_ahead_and_after(
    laboratory: Callable[[int], Study], tmp_path: Path
) -> None:
    """A block of random length stands between the bout and the one that is due."""
    study = laboratory(1)
    text = DUE.replace("manoeuvres:", BLOWS[BLOWS.index("manoeuvres:") : BLOWS.index("visit:")]).replace(
        "measure: [puff], due: {after: row, at: 1 min, late: 90 s}",
        "measure: [blow], due: {after: row, at: 1 min, late: 90 s}}\n"
        "  - {id: then, title: Then, measure: [puff], due: {after: row, at: 130 s, late: 0 s}",
    )
    (tmp_path / "due.yaml").write_text(text.replace("10 min 50 s", "5 min"), encoding="utf-8")
    study = read_study(tmp_path)
    (line,) = told_ahead(study, visit_plans(study), 0.99)
    assert "due.yaml" in line
    assert "less than was asked for (99 %)" in line
    made = packed(study, 0.99, seconds=3)
    assert any("less than was asked for" in reason.message for reason in made.reasons)


def test_a_plan_that_only_leaves_the_least_sure_out_is_taken_where_it_holds_more(
    laboratory: Callable[[int], Study],
) -> None:
    study = laboratory(7)
    plans = visit_plans(study)
    plain = pack(study, plans, seconds=4, now=NOW, workers=1)
    assert plain.placed == 8
    few = replace(plain, visits=plain.visits[:3])
    budget = Budget(time.monotonic() + 60, 1)
    days = Days(running_from(study, plans, few), plain, 0.97, budget, 0, None, time.monotonic() + 60)
    days.take_fuller(plain)
    assert len(days.running.visits) == 7
    assert not days.missing(days._played(days.schedule(), 2000))
    made = days.finished(NOW, ())
    assert not verify(made, study, plans).broken


def test_who_is_left_out_takes_along_what_follows_on_the_same_day(
    one_bench: Callable[..., Study], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first of three visits is the one without which least is missing."""
    study = one_bench(tmp_path, minutes=(10, 10, 10))
    plans = visit_plans(study)
    plain = pack(study, plans, seconds=2, now=NOW, workers=1)
    assert plain.placed == 6
    budget = Budget(time.monotonic() + 60, 1)
    days = Days(running_from(study, plans, plain), plain, 0.97, budget, 0, None, time.monotonic() + 60)
    monkeypatch.setattr(days, "_losses_without", lambda *_: {("P1", "step-1"): 0.0})
    (day,) = plain.dates
    stage = days._stage(day, 10, 1, 0.0, 1)
    assert stage is not None
    take = stage.begin(plain.visits)
    assert take is not None
    left = days._leave_out(stage, take)
    assert {visit.participant for visit in left.visits} == {"P2"}
    assert {who for who, _ in days.running.visits} == {"P2"}


def test_another_day_is_used_before_a_place_is_given_up(laboratory: Callable[..., Study]) -> None:
    """The same seven blocks at 97 %, for which one day gives a place up: a second Monday takes some."""
    study = laboratory(7, days=2)
    made = packed(study, 0.97)
    assert made.placed == 8
    assert len(made.dates) == 2
    odds = play(study, visit_plans(study), made, late_sd_s=0)
    assert all(visit.all_windows >= aim(visit, 0.97) for visit in odds.visits)


def test_who_alone_is_short_is_the_one_left_out(laboratory: Callable[[int], Study]) -> None:
    """Nine blocks fill the time before the window; without the visit that is due, none is short."""
    study = laboratory(9)
    made = packed(study, 0.9)
    assert made.placed == 9
    (gone,) = made.not_placed
    assert gone.participant == "B1"
    assert "left out" in gone.message
    assert any(reason.message.startswith("With 10 visits") for reason in made.reasons)


def test_each_visit_reaches_its_chance_and_the_cost_is_named() -> None:
    study = read_study(SMALL)
    plans = visit_plans(study)
    made = pack_on_time(study, plans, chance=0.9, seconds=6, now=NOW, version=1)
    assert not verify(made, study, plans).broken
    assert made.placed + len(made.not_placed) == made.asked
    assert all(v.all_windows >= aim(v, 0.9) for v in play(study, plans, made).visits)
    assert any("Packed without regard to this" in reason.message for reason in made.reasons)


def test_one_worker_makes_the_same_plan_again(laboratory: Callable[[int], Study]) -> None:
    study = laboratory(6)
    assert packed(study, 0.9).visits == packed(study, 0.9).visits


def test_a_stop_keeps_every_visit_and_says_what_is_short(laboratory: Callable[[int], Study]) -> None:
    study, told = laboratory(6), list[Progress]()
    made = packed(study, 0.9, stop=lambda: True, progress=told.append, workers=2, seconds=60)
    short = sum(v.all_windows < 0.9 for v in play(study, visit_plans(study), made, late_sd_s=0).visits)
    assert made.reasons[-1].message == f"Stopped early; visits short of their chance: {short}."
    assert not any("left out" in gone.message for gone in made.not_placed)
    assert told


def test_moved_moments_keep_every_rule(rich_day: Callable[..., DayProblem]) -> None:
    """The distances that must stay hold for the day as packed, and for every day that comes of them."""
    problem = rich_day(4)
    result = pack_day(problem, seconds=4, stages=("placed",), workers=1)
    core, grid = translate(problem)
    placed = as_answer(problem, core, grid, result.visits)
    assert placed is not None
    assert result.rig_tasks
    answer = with_tasks(core, grid, placed, result.rig_tasks)
    assert answer is not None
    assert answer.starts != placed.starts
    limits = spans(core, answer)
    starts = {(j, i): s for j, its in enumerate(answer.starts) for i, s in enumerate(its or ())}
    assert all(limits[node][0] <= start <= limits[node][1] for node, start in starts.items())
    assert all(starts[r.later] - starts[r.earlier] >= r.low for r in apart(core, answer))
    cast = Cast(problem.study, problem.plans, 50, late_sd_s=300)
    played = cast.play(result.visits, result.rig_tasks, problem.day)
    jobs = {key(visit): j for j, visit in enumerate(problem.visits)}
    numbers = {jobs[key(visit)]: n for n, visit in enumerate(result.visits)}
    slack = Slack(core, grid, answer, played, numbers)
    for worth in (Worth(1, 0.1, 1), Worth(0.01, 0.01, 5)):
        moved = slack.solved(worth)
        assert moved is not None
        new = {(j, i): s for j, its in enumerate(moved.starts) for i, s in enumerate(its or ())}
        assert all(new[r.later] - new[r.earlier] >= r.low for r in apart(core, answer))


def test_a_steadier_day_keeps_every_rule(
    rich_day: Callable[..., DayProblem], judged: Callable[..., list[str]]
) -> None:
    problem = rich_day(4)
    result = pack_day(problem, seconds=4, workers=1)
    cast = Cast(problem.study, problem.plans, 100, late_sd_s=600)
    cast.roles(result.visits)
    stage = SteadyDay(problem, cast, {key(v): 1.0 for v in result.visits}, workers=1)
    first = stage.begin(result.visits, result.rig_tasks)
    assert first is not None
    best = stage.improve(first, Budget(float("inf"), 1), 6)
    assert best.loss <= first.loss
    assert judged(problem, replace(result, visits=best.visits, rig_tasks=best.tasks)) == []


def test_rigs_and_people_are_never_held_against_the_visit_itself(rich_day: Callable[..., DayProblem]) -> None:
    core, _ = translate(rich_day(2))
    kept = held(core, 10_000, range(len(core.jobs)))
    leads = [
        (use, before)
        for its, plain in zip(kept.uses, core.uses, strict=True)
        for use, before in zip(its, plain, strict=True)
        if use.lead > before.lead
    ]
    assert leads
    for use, before in leads:
        assert use.wants in (Wants.RIG, Wants.STAFF)
        assert use.lead <= own_room(core, core.jobs[use.job], before)


def test_a_window_of_the_first_draws_is_the_window_of_the_last(laboratory: Callable[[int], Study]) -> None:
    """Two plans of one visit are played with the same numbers: only the plan makes the difference."""
    study = laboratory(2)
    plans = visit_plans(study)
    made = packed(study, 0.9)
    one, other = (Cast(study, plans, 20, seed=3).roles(made.visits) for _ in range(2))
    for a, b in pairwise((one, other)):
        assert all((x.draws.lengths_s == y.draws.lengths_s).all() for x, y in zip(a, b, strict=True))
