"""Shares by group; the cluster bootstrap against scipy's; trends against scipy and statsmodels."""

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.contingency_tables import Table

from planner.adherence.compare import compare
from planner.adherence.drift import drift, theil_sen, trend
from planner.adherence.groups import (
    by_participant,
    by_person,
    by_rig,
    by_time_point,
    by_week,
    clustered,
)


def study_of_many(by_hand, people=12, late_s=lambda n: 0):
    """So many participants, one a day, each with the +1 min block that many seconds late."""
    asked = [(f"ROW-{n:02d}", 1, "mild air") for n in range(1, people + 1)]
    starts = [by_hand.days(n) for n in range(people)]
    plan = by_hand.schedule_of(*(by_hand.placed(*a, s) for a, s in zip(asked, starts, strict=True)))
    visits = []
    for n, ((code, number, _), start) in enumerate(zip(asked, starts, strict=True)):
        visit = by_hand.kept(code, number, start)
        visit.shift(("after", 60, "fvc"), late_s(n))
        visit.shift(("after", 60, "mep"), late_s(n))
        visits.append(visit)
    return compare(by_hand.study_of(asked), plan, by_hand.happened_of(*visits))


def test_every_grouping_has_every_time_point_once(by_hand):
    found = study_of_many(by_hand, late_s=lambda n: 60 if n % 3 == 0 else 0)
    study = by_hand.study_of([(f"ROW-{n:02d}", 1, "mild air") for n in range(1, 13)])
    points = by_time_point(found, study)
    for groups in (by_participant(found), by_rig(found), points, by_week(found)):
        assert sum(group.share.kept for group in groups) == found.kept.kept == 56
        assert sum(group.share.of for group in groups) == found.kept.of == 60
    assert [(g.name, *g.share) for g in by_rig(found)] == [("M1", 24, 24), ("S1", 32, 36)]
    assert [(g.name, *g.share) for g in by_week(found)] == [("2027-W09", 32, 35), ("2027-W10", 24, 25)]
    named = "1 min after the end of exercise, Forced vital capacity"
    assert [(g.name, *g.share) for g in points][3] == (named, 8, 12)


def test_nothing_by_staff_member_unless_turned_on(by_hand):
    found = study_of_many(by_hand, people=2)
    assert by_person(found) == ()
    assert [(g.name, *g.share) for g in by_person(found, turned_on=True)] == [("K1", 10, 10)]


def test_the_cluster_bootstrap_is_that_of_scipy(by_hand):
    """scipy.stats.bootstrap, paired and by percentiles, draws the participants' counts of kept and judged."""
    found = study_of_many(by_hand, people=30, late_s=lambda n: 60 if n % 4 == 0 else 0)
    counts = np.array([group.share for group in by_participant(found)], dtype=float)
    theirs = stats.bootstrap(
        (counts[:, 0], counts[:, 1]),
        lambda kept, of, axis: kept.sum(axis=axis) / of.sum(axis=axis),
        paired=True,
        vectorized=True,
        method="percentile",
        n_resamples=20_000,
        rng=np.random.default_rng(5),
    ).confidence_interval
    ours = clustered(found, seed=3, draws=20_000)
    assert ours.participants == 30
    assert (ours.low, ours.high) == pytest.approx((theirs.low, theirs.high), abs=0.007)


def test_one_participant_has_no_cluster_range(by_hand):
    assert clustered(study_of_many(by_hand, people=1)).low is None


def test_the_trend_is_that_of_a_table_with_scores():
    """statsmodels, linear-by-linear association; its variance divides by n - 1, Armitage's by n."""
    draw = np.random.default_rng(2)
    scores = draw.integers(0, 5, 200).astype(float)
    kept = (draw.random(200) < 0.5 + 0.08 * scores).astype(float)
    table = np.array([[((scores == s) & (kept == k)).sum() for s in range(5)] for k in (0, 1)])
    theirs = Table(table).test_ordinal_association(np.array([0, 1]), np.arange(5))
    assert trend(kept, scores) == pytest.approx(theirs.zscore * math.sqrt(200 / 199))
    assert trend(kept, scores) == pytest.approx(stats.pearsonr(kept, scores).statistic * math.sqrt(200))


def test_the_slope_is_that_of_scipy():
    draw = np.random.default_rng(4)
    x = draw.integers(0, 30, 80).astype(float)
    y = 2 * x + draw.normal(0, 5, 80)
    slope = theil_sen(list(zip(x, y, strict=True)))
    assert slope == pytest.approx(stats.theilslopes(y, x).slope)


def test_a_study_that_slips_by_three_seconds_a_day(by_hand):
    found = study_of_many(by_hand, people=20, late_s=lambda n: 3 * n)
    seen = drift(found)
    assert seen.z < 0
    assert seen.p < 0.05
    assert "falls over the weeks" in seen.words
    only = [point for point in found.time_points if (point.step, point.at_s) == ("after", 60)]
    pairs = [(n / 7, point.happened_after_s) for n, point in enumerate(only)]
    assert theil_sen(pairs) == pytest.approx(21)


def test_a_steady_study_does_not_drift(by_hand):
    seen = drift(study_of_many(by_hand, people=20, late_s=lambda n: 60 if n % 5 == 2 else 0))
    assert seen.p > 0.05
    assert seen.words.startswith("No sign that the share on time changes")
    assert "neither earlier nor later" in seen.words


def test_little_says_nothing(by_hand):
    assert drift(study_of_many(by_hand, people=2)).words.startswith("Too little to tell")


def test_a_study_always_on_time_has_no_trend(by_hand):
    seen = drift(study_of_many(by_hand, people=6))
    assert (seen.z, seen.p) == (None, None)
    assert seen.words.startswith("The share on time did not change.")
