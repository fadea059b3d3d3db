"""A rehearsed study: nothing is found where nothing was bent, and what people did comes back."""

import math
import random
import statistics
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta

import pytest

from planner.adherence.compare import compare
from planner.adherence.learn import learn, lessons
from planner.adherence.model import Kept
from planner.clock import at_clock, later
from planner.record.efforts_file import read_efforts
from planner.record.lines import gather
from planner.record.rehearse import rehearse
from planner.schedule.model import Activity, Outcome, PlacedVisit, Schedule
from planner.schedule.plans import visit_plans
from planner.study.read import read_study


def alone(study, plans):
    """Every visit at nine o'clock with the laboratory to itself, a participant's visits a week apart."""
    made = datetime(2026, 1, 1, tzinfo=UTC)
    visits = [
        PlacedVisit(code, visit.kind, visit.number, visit.condition, _activities(study, plans, visit, n))
        for code, asked in study.asked.items()
        for n, visit in enumerate(asked)
    ]
    return Schedule(study.name, 1, None, "", made, Outcome.FEASIBLE, len(visits), (), tuple(visits))


def _activities(study, plans, visit, week):
    plan = plans[visit.protocol]
    start = at_clock(study.first_day + timedelta(days=7 * week), time(9), study.zone)
    found = []
    for activity, start_s in zip(plan.activities, plan.starts_s, strict=True):
        begins, end = later(start, start_s), later(start, start_s + activity.length_s)
        first = later(begins, activity.prepare_s) if activity.manoeuvre else None
        found.append(
            Activity(
                activity.step, activity.at_s, activity.manoeuvre, activity.rigs, {}, begins, first, end, end,
                activity.planned_efforts,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda a: a.start.timestamp()))


@pytest.fixture
def world(demo):
    study = read_study(demo)
    plans = visit_plans(study)
    return study, plans, alone(study, plans)


def played(world, seed, dawdle_s=0.0):
    study, plans, schedule = world
    return gather(rehearse(study, schedule, plans, seed=seed, dawdle_s=dawdle_s), rehearsed=True)


def test_a_rehearsal_on_time_has_no_deviation(world):
    study, _, schedule = world
    happened = played(world, 1)
    found = compare(study, schedule, happened)
    assert found.deviations == ()
    assert found.notes == ()
    assert {point.kept for point in found.time_points} == {Kept.ON_TIME}
    assert found.counts.recorded == found.counts.matched == len(happened.efforts) > 2000
    assert found.counts.missing == found.counts.extra == found.counts.refused == 0


def test_hand_made_deviations_are_found_to_the_second_and_no_others(world):
    """Sixteen visits of a rehearsal are bent, one way each, by seconds drawn here; all else stays."""
    study, _, schedule = world
    happened = played(world, 2)
    draw = random.Random(11)
    keys = draw.sample(sorted({e.key for e in happened.efforts if e.key.number}, key=str), 16)
    bends = [_late, _early, _without_a_block, _hurried]
    efforts, expected = happened.efforts, set()
    for key, bend in zip(keys, bends * 4, strict=True):
        efforts, found = bend(_after(study), efforts, key, draw.randrange(1, 25))
        expected.add((key, *found))
    found = compare(study, schedule, replace(happened, efforts=efforts))
    assert {(d.key, d.kind, d.step, d.at_s, d.manoeuvre, d.size) for d in found.deviations} == expected
    assert len(found.deviations) == 16
    assert found.counts.recorded == len(efforts) == found.counts.matched


def _moved(efforts, seconds, wanted):
    return tuple(replace(e, started=later(e.started, seconds)) if wanted(e) else e for e in efforts)


def _late(after, efforts, key, seconds):
    """The last time point begins that long after its window."""
    window = after.due.time_points[-1]
    moved = _moved(
        efforts, window.late_s + seconds, lambda e: (e.key, e.step, e.at_s) == (key, after.id, window.at_s)
    )
    return moved, ("time point late", after.id, window.at_s, after.measure[0], seconds)


def _early(after, efforts, key, seconds):
    """The last time point begins that long before its window."""
    window = after.due.time_points[-1]
    moved = _moved(
        efforts, -window.early_s - seconds, lambda e: (e.key, e.step, e.at_s) == (key, after.id, window.at_s)
    )
    return moved, ("time point early", after.id, window.at_s, after.measure[0], -seconds)


def _without_a_block(after, efforts, key, seconds):
    """The last block of the second time point was never done."""
    label = (after.id, after.due.time_points[1].at_s, after.measure[-1])
    left = tuple(e for e in efforts if (e.key, e.step, e.at_s, e.manoeuvre) != (key, *label))
    return left, ("missing efforts", *label, -3)


def _hurried(after, efforts, key, seconds):
    """All but the first effort of a block that long too soon: one rest is cut short."""
    label = (after.id, after.due.time_points[0].at_s, after.measure[-1])
    moved = _moved(
        efforts,
        -seconds,
        lambda e: (e.key, e.step, e.at_s, e.manoeuvre) == (key, *label) and e.number > 1,
    )
    return moved, ("rest cut short", *label, -seconds)


def _after(study):
    return next(p for p in study.protocols.values() if p.name == "cold-air-rowing").step("after")


def test_known_delays_come_back_from_rehearsals(world):
    """Each start comes late by 20 s on average (exponential), each rest by a quarter of that, cut to seconds.

    So preparing shows as 45 + 20 s and delays as 20 s; four rehearsals of 54 visits, four standard errors.
    """
    study, _, schedule = world
    seen = {}
    for seed in range(4):
        for one in lessons(study, played(world, seed, 20.0), schedule):
            if one.protocol == "cold-air-rowing":
                seen.setdefault((one.what, one.of), []).append(one)
    for key, mean in {("preparing", "mip"): 65, ("preparing", "mep"): 65, ("delay", "row"): 20}.items():
        count = sum(one.observations for one in seen[key])
        pooled = sum(one.seen * one.observations for one in seen[key]) / count
        assert pooled == pytest.approx(mean, abs=4 * 20 / math.sqrt(count)), key
    rest = statistics.fmean(one.seen for one in seen["rest", "mip"])
    quarter = sum(math.exp(-(4 * n - 0.5) / 20) for n in range(1, 200))  # mean of round(x) // 4
    assert rest == pytest.approx(30 + quarter, abs=0.5)


def test_known_spreads_come_back_from_a_rehearsal(world):
    study, _, schedule = world
    learned = learn(study, played(world, 5), schedule)
    protocol = next(p for p in study.protocols.values() if p.name == "cold-air-rowing")
    for (name, manoeuvre, reading), estimate in learned.spread.items():
        if name == protocol.name:
            written = protocol.manoeuvres[manoeuvre].readings[reading]
            scale = float(written.typical.value) / 100 if written.spread.is_percent else 1
            error = 4 / math.sqrt(2 * estimate.observations / 2)
            assert estimate.learned == pytest.approx(abs(float(written.spread.value) * scale), rel=error)


RESTS = """
format: 1
name: rests
title: Rests that time points hang on
version: "1"
manoeuvres:
  deep: {title: Deep breath, effort: 10 s, efforts: 1}
visit:
  - {id: row, title: Rowing, exercise: true, takes: 5 min, watch: {staff: lead, for: 5 min}}
  - {id: sit, title: Sitting, rest: 3 min, due: {after: row, at: 1 min, late: 1 min}}
  - {id: after, title: After sitting, measure: deep, due: {after: sit, at: 2 min, late: 1 min}}
"""


def test_a_rest_that_a_time_point_hangs_on_is_played_with_its_times(small):
    (small / "rowing.yaml").write_text(RESTS, encoding="utf-8")
    study = read_study(small)
    plans = visit_plans(study)
    schedule = alone(study, plans)
    found = compare(study, schedule, played((study, plans, schedule), 1))
    assert {(point.step, point.kept) for point in found.time_points} == {
        ("sit", Kept.ON_TIME), ("after", Kept.ON_TIME)
    }  # fmt: skip


def test_an_effort_beyond_at_most_is_found_as_extra(small):
    study = read_study(small)
    text = (
        "participant,visit,step,at,manoeuvre,effort,started\n"
        "ROW-01,practice,learn,,mep,1,2027-03-01T09:00:00\nROW-01,practice,learn,,mep,2,2027-03-01T09:00:40\n"
        "ROW-01,practice,learn,,mep,3,2027-03-01T09:01:20\nROW-01,practice,learn,,mep,4,2027-03-01T09:02:00\n"
    )
    path = small / "efforts.csv"
    path.write_text(text, encoding="utf-8")
    found = compare(study, None, gather(read_efforts(path, study).lines, rehearsed=False))
    assert (found.counts.matched, found.counts.extra) == (3, 1)
