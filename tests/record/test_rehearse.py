"""A rehearsal: the planned visits with made-up numbers, each playable, the same for the same seed."""

from __future__ import annotations

from collections import Counter
from datetime import date
from itertools import pairwise
from statistics import NormalDist

import pytest

from planner.clock import seconds_between
from planner.protocol.agreement import ended_after
from planner.record.efforts_file import read_efforts, write_efforts
from planner.record.lines import gather
from planner.record.rehearse import rehearse
from planner.record.store import open_store
from planner.schedule.model import Schedule
from planner.study.model import Study


def happened(study: Study, schedule: Schedule, plans, seed: int = 1, **more):
    return gather(rehearse(study, schedule, plans, seed=seed, **more), rehearsed=True)


def test_the_same_seed_gives_the_same_lines(study, schedule, plans):
    assert rehearse(study, schedule, plans, seed=3) == rehearse(study, schedule, plans, seed=3)
    assert rehearse(study, schedule, plans, seed=3) != rehearse(study, schedule, plans, seed=4)


def test_every_line_is_marked_and_taken_by_the_rehearsal_alone(study, schedule, plans, tmp_path):
    lines = rehearse(study, schedule, plans, seed=1)
    assert {line.note for line in lines} == {"rehearsed"}
    out = tmp_path / "rehearsed.csv"
    assert write_efforts(out, lines, study) == len(lines)
    read = read_efforts(out, study)
    assert read.rehearsed
    assert not read.refused
    with open_store(study) as real:
        taken = real.take(read)
        assert (taken.added, len(taken.refused)) == (0, len(lines))
    with open_store(study, rehearsed=True) as rehearsal:
        assert rehearsal.take(read).added == len(lines)
        assert rehearsal.take(read).already_there == len(lines)


def test_every_visit_is_played(study, schedule, plans):
    found = Counter(effort.key for effort in happened(study, schedule, plans).efforts)
    assert len(found) == len(schedule.visits)


def test_until_leaves_out_later_days(study, schedule, plans):
    found = happened(study, schedule, plans, until=date(2027, 3, 2))
    assert {effort.started.date() for effort in found.efforts} == {date(2027, 3, 1), date(2027, 3, 2)}


@pytest.mark.parametrize("seed", range(8))
def test_rests_and_windows_are_kept_and_blocks_end_by_their_rule(study, schedule, plans, seed):
    """Alone in the laboratory and without dawdling, only a block's random length can spoil a window."""
    protocol = study.protocols["rowing.yaml"]
    found = happened(study, schedule, plans, seed)
    blocks: dict = {}
    for effort in found.efforts:
        if effort.key.visit == "rowing":
            blocks.setdefault((effort.key, effort.step, effort.at_s, effort.manoeuvre), []).append(effort)
    ends = {(mark.key, mark.step): mark.at for mark in found.marks if mark.what == "end"}
    for (key, step, at_s, name), efforts in blocks.items():
        manoeuvre = protocol.manoeuvres[name]
        gaps = [seconds_between(a.started, b.started) for a, b in pairwise(efforts)]
        assert set(gaps) <= {manoeuvre.effort_s + manoeuvre.rest_s}
        values = [{one.reading: one.value for one in effort.values} for effort in efforts]
        assert ended_after(manoeuvre, values) == len(efforts) or len(efforts) == manoeuvre.at_most
        if step == "after" and name == "fvc-short":
            assert seconds_between(ends[(key, "row")], efforts[0].started) == at_s


def test_readings_follow_the_protocols_normal_distribution(study, schedule, plans):
    """FEV1: mean 3.90 L, SD 2 % of it; the estimate's standard error is spread / sqrt(n)."""
    values = [
        float(one.value)
        for seed in range(60)
        for effort in happened(study, schedule, plans, seed).efforts
        for one in effort.values
        if one.reading == "FEV1"
    ]
    estimate = NormalDist.from_samples(values)
    assert abs(estimate.mean - 3.90) < 5 * 0.078 / len(values) ** 0.5
    assert abs(estimate.stdev / 0.078 - 1) < 5 / (2 * len(values)) ** 0.5


def test_dawdling_makes_starts_later_never_rests_shorter(study, schedule, plans):
    prompt = happened(study, schedule, plans, 5)
    slow = happened(study, schedule, plans, 5, dawdle_s=20.0)
    assert max(e.started for e in slow.efforts) > max(e.started for e in prompt.efforts)
    for one, other in pairwise(slow.efforts):
        same = (one.key, one.step, one.at_s, one.manoeuvre) == (
            other.key,
            other.step,
            other.at_s,
            other.manoeuvre,
        )
        if same:
            manoeuvre = study.protocols["rowing.yaml"].manoeuvres[one.manoeuvre]
            assert seconds_between(one.started, other.started) >= manoeuvre.effort_s + manoeuvre.rest_s
