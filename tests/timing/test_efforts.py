"""How many efforts a block takes: against the stop rule value by value, and against printed tables."""

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm, studentized_range

from planner.protocol.agreement import ended_after
from planner.protocol.model import EnoughLine, Learning, Manoeuvre, Reading
from planner.quantity import Quantity
from planner.timing.efforts import Spread, draw_ends

DRAWS = 100_000


def _ends(manoeuvre, draws=DRAWS, seed=1):
    spreads = {
        name: Spread(float(r.typical.value), float(r.spread.value)) for name, r in manoeuvre.readings.items()
    }
    return draw_ends(manoeuvre, draws, np.random.Generator(np.random.PCG64(seed)), spreads)


def _done_by(ends, number):
    return float((ends.agreed & (ends.efforts <= number)).mean())


class _Told:
    """Stands for a random generator and gives what it was told, one block at a time."""

    def __init__(self, acceptable, values):
        self.acceptable, self.values = iter(acceptable), iter(values)

    def random(self, size):
        return np.array([0.0 if next(self.acceptable) else 0.99] * size)

    def standard_normal(self, size):
        return np.array([float(next(self.values))] * size)


WIDTHS = st.sampled_from(["0 L", "0.25 L", "1 L", "2.5 L", "12.5 %", "25 %", "50 %"])
LINES = st.builds(
    lambda reading, kind, count, within: EnoughLine(
        reading, kind, count, tuple(Quantity(Decimal(w.split()[0]), w.split()[1]) for w in within)
    ),
    st.sampled_from("AB"),
    st.sampled_from(["largest", "any"]),
    st.integers(2, 4),
    st.lists(WIDTHS, min_size=1, max_size=2),
)
QUARTERS = st.integers(-12, 12).map(lambda quarters: Decimal(quarters) / 4)  # exact as decimals and as floats


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_agrees_with_the_rule_value_by_value(data):
    """The rule on columns and the rule on written decimals end every block at the same effort."""
    lines = tuple(data.draw(st.lists(LINES, min_size=1, max_size=3)))
    at_most = data.draw(st.integers(max(4, *(line.count for line in lines)), 8))
    level = data.draw(st.sampled_from([Decimal(8), Decimal(-8)]))
    readings = {n: Reading(n, "L", Quantity(level, "L"), Quantity(Decimal(1), "L")) for n in "AB"}
    at_least = data.draw(st.integers(1, 4))
    manoeuvre = Manoeuvre(
        "m", "M", (), (), 0, 10, 10, at_least, at_most, lines, readings, (), None, acceptable=0.5
    )
    used = list(dict.fromkeys(line.reading for line in lines))
    efforts = data.draw(
        st.lists(
            st.tuples(st.booleans(), st.tuples(*[QUARTERS] * len(used))), min_size=at_most, max_size=at_most
        )
    )
    told = _Told([ok for ok, _ in efforts], [value for _, values in efforts for value in values])
    ends = draw_ends(manoeuvre, 1, told, {n: Spread(float(level), 1.0) for n in "AB"})
    written = [
        {name: level + value for name, value in zip(used, values, strict=True)} if ok else {}
        for ok, values in efforts
    ]
    expected = ended_after(manoeuvre, written)
    assert bool(ends.agreed[0]) == (expected is not None)
    assert int(ends.efforts[0]) == (expected or at_most)


# w in SDs, and the share of three normal efforts whose range is at most w
@pytest.mark.parametrize(("w", "share"), [("1", 0.2407), ("2", 0.6665), ("3", 0.9145)])
def test_three_efforts_within_w(manoeuvre_of, w, share):
    """The studentised range with infinite degrees of freedom; shares as computed from it."""
    ends = _ends(manoeuvre_of(("R", "any", 3, [f"{w} L"])))
    assert studentized_range.cdf(float(w), 3, np.inf) == pytest.approx(share, abs=1e-4)
    assert _done_by(ends, 3) == pytest.approx(share, abs=0.006)


@pytest.mark.parametrize(("k", "w"), [(3, 3.314), (4, 3.633), (5, 3.858), (2, 2.772)])
def test_printed_table_of_the_studentised_range(manoeuvre_of, k, w):
    """Upper 5 % points of the last line (infinite degrees of freedom): 3.31 read, the others from memory."""
    ends = _ends(manoeuvre_of(("R", "largest", k, [f"{w} L"]), at_least=k, at_most=k))
    assert _done_by(ends, k) == pytest.approx(0.95, abs=0.004)


@pytest.mark.parametrize(("k", "d2"), [(2, 1.128), (3, 1.693), (4, 2.059), (5, 2.326)])
def test_expected_range_is_d2_of_the_control_chart_tables(manoeuvre_of, k, d2):
    """The mean range is the integral of P(range > w): d2 as printed (1.1284, 1.6926, 2.0588 read)."""
    widths = np.arange(0.05, 8, 0.1)
    beyond = [
        1
        - _done_by(_ends(manoeuvre_of(("R", "largest", k, [f"{w:.2f} L"]), at_least=k, at_most=k), 20_000), k)
        for w in widths
    ]
    assert sum(beyond) * 0.1 == pytest.approx(d2, abs=0.01)


@pytest.mark.parametrize(
    ("rule", "w", "shares", "mean"),
    [
        ("largest 2", "1.0", [0.661, 0.786, 0.849, 0.887, 0.910, 0.927], 3.91),
        ("largest 2", "1.5", [0.837, 0.913, 0.945, 0.962, 0.972, 0.979], 3.37),
        ("largest 2", "2.0", [0.931, 0.969, 0.982, 0.989, 0.992, 0.994], 3.14),
        ("any 3", "1.0", [0.240, 0.564, 0.831, 0.956, 0.993, 0.999], 4.42),
        ("any 3", "1.5", [0.462, 0.821, 0.975, 0.998, 1.0, 1.0], 3.74),
        ("any 3", "2.0", [0.666, 0.943, 0.998, 1.0, 1.0, 1.0], 3.39),
        ("largest 3", "1.5", [0.462, 0.682, 0.795, 0.857, 0.895, 0.919], 4.31),
        ("largest 3", "2.0", [0.666, 0.853, 0.922, 0.953, 0.968, 0.977], 3.64),
    ],
)
def test_shares_done_by_each_effort(manoeuvre_of, rule, w, shares, mean):
    """Computed apart from this program: 400 000 sets in plain Python, standard error 0.0008."""
    kind, count = rule.split()
    ends = _ends(manoeuvre_of(("R", kind, int(count), [f"{w} L"])))
    for number, share in enumerate(shares, start=3):
        assert _done_by(ends, number) == pytest.approx(share, abs=0.006)
    assert ends.efforts.mean() == pytest.approx(mean, abs=0.02)


def test_spacing_of_the_two_largest_of_a_published_study(manoeuvre_of):
    """Enright 2004, AJRCCM 169:235-238 (read): 90 % within 150 mL. With SD 83.5 mL, 150 mL is 1.796 SD, and
    the two largest of three efforts differ by no more in 90 %."""
    ends = _ends(manoeuvre_of(("R", "largest", 2, ["0.150 L"]), level="4.0", spread="0.0835", at_most=3))
    assert _done_by(ends, 3) == pytest.approx(0.90, abs=0.01)


def test_each_line_must_hold(manoeuvre_of):
    """Two readings drawn alone: at effort 3 both hold in the product of the shares."""
    ends = _ends(manoeuvre_of(("A", "largest", 2, ["1 L"]), ("B", "any", 3, ["2 L"])))
    assert _done_by(ends, 3) == pytest.approx(0.6604 * 0.6665, abs=0.006)


def test_the_wider_of_two_widths_counts(manoeuvre_of):
    """10 % of 100 L is 10 L: wider than 1 L."""
    assert _ends(manoeuvre_of(("R", "any", 3, ["10 %", "0.001 L"]))).efforts.max() == 3


def test_without_a_rule_a_block_takes_at_least(manoeuvre_of):
    ends = _ends(manoeuvre_of(at_least=4, at_most=6), 100)
    assert set(ends.efforts) == {4}


def test_no_spread_agrees_at_once(manoeuvre_of):
    ends = _ends(manoeuvre_of(("R", "largest", 2, ["0 L"]), spread="0"), 100)
    assert set(ends.efforts) == {3}
    assert ends.agreed.all()


def test_a_share_of_acceptable_efforts(manoeuvre_of):
    """With every pair close enough, the third acceptable effort ends the block: at effort n in the negative
    binomial's share."""
    ends = _ends(manoeuvre_of(("R", "largest", 2, ["100 L"]), acceptable=0.8))
    assert _done_by(ends, 3) == pytest.approx(0.8**3, abs=0.006)
    assert _done_by(ends, 4) == pytest.approx(0.8**3 * (1 + 3 * 0.2), abs=0.006)


def test_learning_makes_the_first_efforts_smaller(manoeuvre_of):
    """Mean 90 L, then 100 L: the two agree within 1 SD when a normal of mean 10, SD sqrt 2 lies within 1."""
    manoeuvre = manoeuvre_of(
        ("R", "any", 2, ["8 L"]), at_least=2, at_most=2, learning=Learning(gain=0.10, over=1)
    )
    expected = norm.cdf((8 - 10) / 2**0.5) - norm.cdf((-8 - 10) / 2**0.5)
    assert _done_by(_ends(manoeuvre), 2) == pytest.approx(expected, abs=0.005)
