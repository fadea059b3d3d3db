"""Ranges against scipy and statsmodels, and how often they hold a known truth."""

import random

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from planner.adherence.ranges import FEWEST_DF, Seen, chi_squares, mean_range, sd_range, t_95


@pytest.mark.parametrize("df", [1, 2, 3, 4, 5, 8, 11, 20, 60, 1000])
def test_the_points_of_t_are_those_of_scipy(df):
    assert t_95(df) == pytest.approx(stats.t.ppf(0.975, df), rel=0.002)


@pytest.mark.parametrize("df", [10, 20, 50, 200])
def test_the_points_of_chi_square_are_those_of_scipy(df):
    """The cube of Wilson and Hilferty is within 2 % from 10 degrees of freedom on."""
    assert chi_squares(df) == pytest.approx(tuple(stats.chi2.ppf([0.975, 0.025], df)), rel=0.02)


def test_with_one_observation_each_it_is_the_textbook_range():
    values = [41.0, 38.5, 44.0, 47.5, 39.0]
    low, high = mean_range([Seen(value, str(n)) for n, value in enumerate(values)])
    mean, error = np.mean(values), stats.sem(values)
    assert (low, high) == pytest.approx(stats.t.interval(0.95, 4, mean, error), rel=1e-3)


def test_with_several_of_one_person_it_is_the_cluster_range_of_statsmodels():
    """OLS of a constant with clustered errors; its small-sample factor is G / (G - 1) * (n - 1) / (n - 1)."""
    draw = random.Random(4)
    seen = [
        Seen(draw.gauss(40 + 3 * person, 2), str(person)) for person in range(7) for _ in range(person + 2)
    ]
    values = np.array([one.value for one in seen])
    groups = np.array([int(one.who) for one in seen])
    fit = sm.OLS(values, np.ones(len(values))).fit(
        cov_type="cluster",
        cov_kwds={"groups": groups, "use_correction": True, "df_correction": True},
        use_t=True,
    )
    assert tuple(mean_range(seen)) == pytest.approx(tuple(fit.conf_int()[0]), rel=1e-3)


def test_too_little_has_no_range():
    assert mean_range([Seen(40.0, "ROW-01"), Seen(44.0, "ROW-01")]) == (None, None)
    assert sd_range(2.0, FEWEST_DF - 1) == (None, None)


def test_a_mean_of_people_who_differ_is_held_as_often_as_stated():
    """2000 studies of 12 people who differ by an SD of 4 s, six rests each of SD 6 s."""
    rng = np.random.default_rng(5)
    held = narrow = 0
    for _ in range(2000):
        people = rng.normal(41, 4, 12)
        values = people[:, None] + rng.normal(0, 6, (12, 6))
        low, high = mean_range([Seen(v, str(p)) for p in range(12) for v in values[p]])
        held += low <= 41 <= high
        flat = values.ravel()
        half = 1.96 * flat.std(ddof=1) / np.sqrt(flat.size)
        narrow += abs(flat.mean() - 41) <= half
    assert 0.93 <= held / 2000 <= 0.97
    assert narrow / 2000 < 0.90  # as if all efforts were independent: far too sure
