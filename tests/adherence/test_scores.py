"""Scores by their definitions, and better forecasts after learning on visits that taught nothing."""

import math
import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import expon
from statsmodels.regression.quantile_regression import QuantReg

from planner.adherence.learn import PRIOR_WEIGHT, learn
from planner.adherence.scores import brier, calibration, forecasts, lengths_s, pinball, scores, split
from planner.adherence.words import scores_words


def test_brier_of_a_worked_table():
    """Chances 0.9 kept, 0.8 missed, 0.5 kept: (0.01 + 0.64 + 0.25) / 3."""
    assert brier([(0.9, True), (0.8, False), (0.5, True)]) == pytest.approx(0.30)
    assert brier([]) is None


@given(st.lists(st.floats(0, 1000), min_size=3, max_size=30), st.sampled_from([0.5, 0.8, 0.9]))
def test_no_constant_forecast_beats_the_sample_s_own_quantile(values, quantile):
    """What the pinball loss is for; NumPy's inverted empirical distribution gives the quantile."""
    own = float(np.quantile(values, quantile, method="inverted_cdf"))
    least = pinball([(own, value) for value in values], quantile)
    for other in (own - 1, own + 1, 0.0, 500.0, 1000.0):
        assert least <= pinball([(other, value) for value in values], quantile) + 1e-9


def test_the_least_pinball_loss_is_a_library_s_quantile_regression():
    """statsmodels, quantile regression on a constant alone."""
    values = np.random.default_rng(1).normal(100, 20, 301)
    fitted = float(QuantReg(values, np.ones(301)).fit(q=0.8).params[0])
    loss = pinball([(fitted, value) for value in values], 0.8)
    assert loss == pytest.approx(
        pinball([(float(np.quantile(values, 0.8)), value) for value in values], 0.8), rel=1e-3
    )


def test_calibration_puts_every_chance_into_one_bin():
    pairs = [(0.0, False), (0.5, True), (0.51, True), (0.9, False), (0.95, True), (1.0, True)]
    bins = calibration(pairs)
    assert [one.kept for one in bins] == [(1, 2), (1, 1), (0, 1), (1, 1), (1, 1)]
    assert sum(one.kept.of for one in bins) == len(pairs)
    assert bins[0].forecast == 0.25


def slow(by_hand, code, number, day):
    """A visit in which FVC rests last 80 s, so that the MEP block and the whole visit end later."""
    visit = by_hand.kept(code, number, by_hand.days(day))
    for label in list(visit.efforts):
        if label[2] == "fvc":
            first = visit.efforts[label][0]
            visit.block(*label, first, len(visit.efforts[label]), 100)
    visit.shift(("after", 60, "mep"), 100)
    visit.shift(("after", 900, "mep"), 150)
    for mark in (("sit", "start"), ("sit", "end")):
        visit.marks[mark] = by_hand.at(65 if mark[1] == "start" else 75, 0, visit.start)
    return visit


@pytest.fixture
def slow_study(by_hand):
    asked = [(f"ROW-{n:02d}", 1, "mild air") for n in range(20)]
    visits = [slow(by_hand, code, number, n) for n, (code, number, _) in enumerate(asked)]
    return by_hand.study_of(asked), by_hand.happened_of(*visits)


def test_the_split_keeps_visits_whole_and_in_order(slow_study):
    _, happened = slow_study
    earlier, later = split(happened, 0.5)
    assert len(earlier.efforts) + len(later.efforts) == len(happened.efforts)
    assert {e.key.participant for e in earlier.efforts} == {f"ROW-{n:02d}" for n in range(10)}
    assert not {e.key for e in earlier.efforts} & {e.key for e in later.efforts}


def test_the_length_of_a_visit_counts_its_unrecorded_rest(slow_study):
    """From arrival to the end of the last MEP effort, and ten minutes of rest."""
    study, happened = slow_study
    last = max(e.started for e in happened.efforts if e.key.participant == "ROW-00")
    first = min(m.at for m in happened.marks if m.key.participant == "ROW-00")
    assert set(lengths_s(study, happened).values()) == {(last - first).total_seconds() + 10 + 600}


def test_learning_makes_forecasts_of_later_visits_better(slow_study):
    found = scores(*slow_study)
    assert found.taught_by == 10
    assert found.before.visits == found.after.visits == 10
    assert found.after.pinball_s < found.before.pinball_s
    assert found.before.points == found.after.points == 50
    assert sum(one.kept.of for one in found.bins_after) == 50


def test_scores_in_words(slow_study):
    study, happened = slow_study
    words = scores_words(scores(study, happened))
    assert words.startswith("Learned from 10 earlier visits, judged on 10 later ones.")
    assert "Brier score of 50 time points" in words
    assert "pinball score" in words
    assert scores_words(scores(study, split(happened, 0)[0])) == "No later visits to judge the forecasts by."


MEAN_S, PEOPLE = 40.0, 240


@pytest.fixture
def dawdling(by_hand):
    """Each time point after rowing begins late by an exponential time of 40 s on average, cut to seconds."""
    draw, visits = random.Random(5), []
    for n in range(PEOPLE):
        visit = by_hand.kept(f"ROW-{n:03d}", 1, by_hand.days(n))
        for at_s in (60, 900):
            late_s = int(draw.expovariate(1 / MEAN_S))
            visit.shift(("after", at_s, "fvc"), late_s)
            visit.shift(("after", at_s, "mep"), late_s)
        visits.append(visit)
    asked = [(f"ROW-{n:03d}", 1, "mild air") for n in range(PEOPLE)]
    return by_hand.study_of(asked), by_hand.happened_of(*visits)


def test_learned_chances_come_to_the_true_ones(dawdling):
    """The exponential distribution of scipy.stats gives the truth: windows end 30 s and 2 min late.

    As stated, the assumption (always on time) weighs 20 observations beside two of each visit. Allowed
    are four standard errors of a share of that many observations, and 0.01 for the forecast's own.
    """
    study, happened = dawdling
    (ahead,) = forecasts(study, learn(study, happened)).values()
    seen = 2 * PEOPLE
    for at_s, window_s in ((60, 30), (900, 120)):
        truth = expon.cdf(window_s + 1, scale=MEAN_S)  # cut to seconds, up to just under one more is on time
        shrunk = (PRIOR_WEIGHT + seen * truth) / (PRIOR_WEIGHT + seen)
        index = next(i for i, a in enumerate(ahead.plan.activities) if (a.step, a.at_s) == ("after", at_s))
        error = 4 * math.sqrt(truth * (1 - truth) / seen) + 0.01
        assert ahead.chances[index].share == pytest.approx(shrunk, abs=error)


def test_learning_how_late_people_are_makes_chances_better(dawdling):
    """Held-out visits; nothing can score better on average than the mean of p (1 - p) over true chances p."""
    found = scores(*dawdling)
    truths = [1.0, *(expon.cdf(w + 1, scale=MEAN_S) for w in (30, 120))]  # before, and twice after rowing
    of = {"before": 3, "after": 2}
    best = sum(p * (1 - p) for p in truths[1:]) / (of["before"] + of["after"])
    blind = sum(1 - p for p in truths[1:]) / (of["before"] + of["after"])
    assert found.before.brier == pytest.approx(blind, abs=0.04)
    assert found.after.brier == pytest.approx(best, abs=0.03)
    assert found.after.brier < found.before.brier - 0.02
    assert found.after.pinball_s < found.before.pinball_s
