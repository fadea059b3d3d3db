"""Wilson intervals against the published worked example and statsmodels."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from planner.adherence.shares import Share, percent, wilson


@pytest.mark.parametrize(
    ("kept", "of", "low", "high"),
    [
        # Newcombe, Stat Med 1998;17:857-872, table 1, method 3; 81/263 read in a quotation, rest from memory
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_published_worked_example(kept, of, low, high):
    found = wilson(kept, of)
    assert found == pytest.approx((low, high), abs=0.00005)


@given(st.integers(1, 5000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_statsmodels_says_the_same(pair):
    kept, of = pair
    assert wilson(kept, of) == pytest.approx(proportion_confint(kept, of, method="wilson"), abs=1e-9)


@given(st.integers(1, 500).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_the_share_lies_in_its_interval(pair):
    share = Share(*pair)
    assert 0 <= share.low <= share.share <= share.high <= 1


def test_nothing_has_no_share():
    nothing = Share(0, 0)
    assert nothing.as_json() == {"share": None, "low": None, "high": None}
    assert nothing.words() == "none to judge"


def test_a_share_in_words():
    assert Share(45, 50).words() == "45 of 50 (90 %, 95 % range 79 to 96 %)"


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "0"),
        (1.0, "100"),
        (2007 / 2009, "99.9"),
        (0.99999, "99.9"),
        (0.004, "0.4"),
        (1e-9, "0.1"),
        (0.5, "50"),
    ],
)
def test_nothing_and_everything_are_said_only_where_they_are_meant(share, words):
    assert percent(share) == words
