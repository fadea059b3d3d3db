"""Scores by their definitions, and better forecasts after learning on visits that taught nothing."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.regression.quantile_regression import QuantReg

from planner.adherence.scores import brier, calibration, lengths_s, pinball, scores, split
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
