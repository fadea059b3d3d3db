"""Simulated visits against closed forms: triangles, the studentised range, quantiles of few lengths."""

import hashlib

import numpy as np
import pytest
from scipy.stats import studentized_range, triang

from planner.timing.learned import Estimate, Learned
from planner.timing.simulate import simulate

DRAWS = 60_000
ROW = "- {id: row, title: Row, exercise: true, takes: 20 min}\n"
UNKNOWN = (
    "- {id: row, title: Row, exercise: true, takes: {about: 12 min, shortest: 6 min, longest: 20 min}}\n"
)
TRIANGLE = triang((720 - 360) / 840, loc=360, scale=840)


def _share(draws, row=0):
    return draws.chance(row).share


def test_the_same_seed_gives_the_same_draws(visit):
    """Pinned, so that another machine, or another version of a library, is told apart."""
    protocol = visit(UNKNOWN + "- {id: m, title: M, measure: [blow]}")
    first, again, other = simulate(protocol, seed=7), simulate(protocol, seed=7), simulate(protocol, seed=8)
    assert np.array_equal(first.visit_s, again.visit_s)
    assert not np.array_equal(first.visit_s, other.visit_s)
    thousandths = np.round(first.visit_s * 1000).astype("<i8").tobytes()
    assert hashlib.sha256(thousandths).hexdigest()[:16] == "960edd52184fc3b4"


def test_more_draws_begin_with_the_same(visit):
    protocol = visit("- {id: m, title: M, measure: [blow]}")
    few, many = simulate(protocol, draws=32_768), simulate(protocol, draws=70_000)
    assert np.array_equal(few.visit_s, many.visit_s[:32_768])


def test_quantiles_of_one_block(visit):
    """120, 170 or 220 s in 0.4614, 0.3594, 0.1792 of the draws."""
    draws = simulate(visit("- {id: m, title: M, measure: [blow]}"), draws=DRAWS)
    assert [draws.quantile_s(q) for q in (0.4, 0.5, 0.8, 0.9)] == [120, 170, 170, 220]
    assert (draws.visit_s == 120).mean() == pytest.approx(studentized_range.cdf(1.5, 3, np.inf), abs=0.006)


def test_a_crowded_time_point(visit):
    """The second blow may begin by 4:30, the first began at 1:00: on time after at most four efforts."""
    steps = (
        ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 4 min], late: 30 s}}"
    )
    draws = simulate(visit(steps), draws=DRAWS)
    assert _share(draws, 0) == 1
    assert _share(draws, 1) == pytest.approx(0.8208, abs=0.006)
    assert draws.chance(1).error == pytest.approx((0.8208 * 0.1792 / DRAWS) ** 0.5, rel=0.02)
    assert draws.chance_of_all().share == _share(draws, 1)


def test_both_ends_of_a_window_are_included(visit):
    """Four efforts end at 3:50: a window that ends there keeps them, one second less does not."""
    steps = (
        ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 3 min], late: LATE}}"
    )
    kept, lost = (simulate(visit(steps.replace("LATE", late)), draws=DRAWS) for late in ("50 s", "49 s"))
    assert _share(kept, 1) == pytest.approx(0.8208, abs=0.006)
    assert _share(lost, 1) == pytest.approx(0.4614, abs=0.006)


def test_a_bout_is_drawn_from_the_triangle(visit):
    draws = simulate(visit(UNKNOWN), draws=DRAWS)
    assert draws.visit_s.mean() == pytest.approx(TRIANGLE.mean(), abs=3)
    assert draws.visit_s.std() == pytest.approx(TRIANGLE.std(), rel=0.01)
    for q in (0.1, 0.5, 0.9):
        assert draws.quantile_s(q) == pytest.approx(TRIANGLE.ppf(q), abs=5)


def test_from_start_is_on_time_while_the_bout_is_short_enough(visit):
    steps = UNKNOWN + (
        "- {id: after, title: A, measure: [five], due: {after: row, from: start, at: 14 min, late: 2 min}}"
    )
    draws = simulate(visit(steps), draws=DRAWS)
    assert _share(draws) == pytest.approx(
        TRIANGLE.cdf(960 - 60), abs=0.006
    )  # a minute of preparing follows it


def test_from_end_waits_for_the_real_end(visit):
    steps = UNKNOWN + "- {id: after, title: A, measure: [five], due: {after: row, at: 2 min, late: 0 s}}"
    assert _share(simulate(visit(steps), draws=5000)) == 1


def test_chances_are_of_the_times_reached(visit):
    """quick at 15 min ends at 15:10: reached when the bout lasts longer, and then always on time."""
    steps = """
    - id: row
      title: Row
      exercise: true
      takes: {about: 12 min, shortest: 6 min, longest: 20 min}
      during:
        - {measure: [quick], at: [5 min, 15 min], late: 0 s, if_reached: true}
    - {id: sit, title: S, rest: 1 min}
    """
    draws = simulate(visit(steps), draws=DRAWS)
    assert [_share(draws, 0), _share(draws, 1)] == [1, 1]
    assert draws.reached[0].all()
    assert draws.reached[1].mean() == pytest.approx(1 - TRIANGLE.cdf(910), abs=0.006)
    assert np.allclose(draws.visit_s, draws.lengths_s[0] + 60)  # what is not reached holds nothing up


def test_before_is_kept_unless_something_between_takes_too_long(visit):
    """blow stands between: the gap is 2:00, 2:50 or 3:40; up to 3 min is on time."""
    steps = """
    - {id: pre, title: P, measure: [quick], due: {before: row, at: 1 min, early: 2 min, late: 0 s}}
    - {id: between, title: B, measure: [blow]}
    - {id: row, title: Row, exercise: true, takes: 20 min}
    """
    assert _share(simulate(visit(steps), draws=DRAWS)) == pytest.approx(0.8208, abs=0.006)


def test_before_alone_is_always_kept(visit):
    steps = """
    - {id: pre, title: P, measure: [blow], due: {before: row, at: [20 min, 5 min], late: 0 s}}
    - {id: row, title: Row, exercise: true, takes: 20 min}
    """
    draws = simulate(visit(steps), draws=5000)
    assert [_share(draws, 0), _share(draws, 1)] == [1, 1]


def test_efforts_are_drawn_anew_in_every_block(visit):
    draws = simulate(
        visit("- {id: m, title: M, measure: [blow]}\n- {id: n, title: N, measure: [blow]}"), draws=DRAWS
    )
    assert abs(np.corrcoef(draws.efforts[0], draws.efforts[1])[0, 1]) < 0.02


def test_a_learned_spread_replaces_the_assumed(visit):
    """Twice the spread: three within 0.75 SD."""
    learned = Learned(spread={("timed", "blow", "R"): Estimate(1.0, 2.0, 30)})
    draws = simulate(visit("- {id: m, title: M, measure: [blow]}"), draws=DRAWS, learned=learned)
    assert (draws.efforts[0] == 3).mean() == pytest.approx(studentized_range.cdf(0.75, 3, np.inf), abs=0.006)


def test_a_learned_mean_moves_the_mode_of_a_bout(visit):
    """Mean (6 + mode + 20) / 3 = 13 min for the mode 13 min."""
    learned = Learned(
        bout_s={("timed", "row"): Estimate(720, 780, 30)}, delay_s={("timed", "row"): Estimate(0, 30, 9)}
    )
    draws = simulate(visit("- {id: a, title: A, takes: 1 min}\n" + UNKNOWN), draws=DRAWS, learned=learned)
    assert draws.visit_s.mean() == pytest.approx(60 + 30 + 780, abs=3)


def test_learned_lateness_is_drawn_for_what_is_due(visit):
    """One in four is 40 s late, one in four 20 s, two are on the second; the window ends 30 s late."""
    steps = (
        ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 20 min], late: 30 s}}"
    )
    late = Estimate(0, 15, 4, (0.0, 0.0, 20.0, 40.0))
    protocol = visit(steps)
    draws = simulate(protocol, draws=DRAWS, learned=Learned(late_s={(protocol.name, "after"): late}))
    assert _share(draws, 0) == pytest.approx(0.75, abs=0.008)
    assert _share(draws, 1) == pytest.approx(0.75, abs=0.008)
    assert draws.chance_of_all().share == pytest.approx(0.75**2, abs=0.008)  # drawn anew each time


def test_nobody_begins_before_what_stands_before_has_ended(visit):
    """A minute early is early where there is room, and no sooner than the end of the bout elsewhere."""
    steps = (
        ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [10 s, 20 min], late: 30 s}}"
    )
    protocol = visit(steps)
    hasty = Learned(late_s={(protocol.name, "after"): Estimate(0, -60, 9, (-60.0,))})
    draws = simulate(protocol, draws=2000, learned=hasty)
    gaps = [draws.gap_s(window).min() for window in draws.outline.windows]
    assert gaps == [draws.prepare_s[1], 20 * 60 - 60]


def test_a_delay_with_a_known_spread_is_drawn(visit):
    """After a bout of 20 min the next step starts at once or 90 s later, as often; its end varies by that."""
    protocol = visit(ROW + "- {id: sit, title: S, rest: 5 min}")
    delay = Learned(delay_s={(protocol.name, "sit"): Estimate(0, 45, 2, (0.0, 90.0))})
    draws = simulate(protocol, draws=DRAWS, learned=delay)
    assert set(draws.visit_s) == {1500.0, 1590.0}
    assert (draws.visit_s == 1590).mean() == pytest.approx(0.5, abs=0.01)
