"""Numbers of efforts without random numbers, against closed forms and against draws."""

import numpy as np
import pytest
from scipy.stats import studentized_range

from planner.protocol.model import Learning
from planner.timing.efforts import Spread, draw_ends
from planner.timing.single_block import ended_by_rule, has_closed_form

UNIT = {"R": Spread(100.0, 1.0)}


@pytest.mark.parametrize("w", ["0.5", "1", "1.5", "2", "3"])
def test_three_of_three_is_the_studentised_range(manoeuvre_of, w):
    found = ended_by_rule(manoeuvre_of(("R", "any", 3, [f"{w} L"])), UNIT)
    assert found[3] == pytest.approx(studentized_range.cdf(float(w), 3, np.inf), abs=2e-4)


@pytest.mark.parametrize(
    ("n", "w", "share"),
    [
        (3, "0.5", 0.3812), (3, "1.0", 0.6604), (3, "1.5", 0.8360), (3, "2.0", 0.9308),
        (4, "0.5", 0.4401), (4, "1.0", 0.7267), (4, "1.5", 0.8846), (4, "2.0", 0.9582),
        (5, "0.5", 0.4792), (5, "1.0", 0.7661), (8, "1.0", 0.8262), (8, "2.0", 0.9849),
    ],
)  # fmt: skip
def test_spacing_of_the_two_largest(manoeuvre_of, n, w, share):
    """P(largest - second largest <= w SD) of n normals, computed apart from this program by integration."""
    found = ended_by_rule(manoeuvre_of(("R", "largest", 2, [f"{w} L"]), at_least=n, at_most=n), UNIT)
    assert found[n] == pytest.approx(share, abs=3e-4)


@pytest.mark.parametrize(
    "rule", [("any", 2, "0.3 L"), ("any", 3, "1.2 L"), ("largest", 2, "0.7 L"), ("any", 3, "2 %")]
)
@pytest.mark.parametrize("at_least", [1, 2, 4])
def test_agrees_with_draws(manoeuvre_of, rule, at_least):
    kind, count, within = rule
    manoeuvre = manoeuvre_of(("R", kind, count, [within]), at_least=at_least, at_most=7)
    ends = draw_ends(manoeuvre, 60_000, np.random.Generator(np.random.PCG64(3)), UNIT)
    for number, share in ended_by_rule(manoeuvre, UNIT).items():
        drawn = float((ends.agreed & (ends.efforts <= number)).mean())
        assert share == pytest.approx(drawn, abs=0.008), number


def test_a_pressure_counts_by_its_magnitude(manoeuvre_of):
    rule = manoeuvre_of(("R", "any", 3, ["2 %"]))
    assert ended_by_rule(rule, {"R": Spread(-100.0, 1.0)}) == ended_by_rule(rule, UNIT)


def test_says_where_it_cannot_answer(manoeuvre_of):
    two = manoeuvre_of(("A", "any", 3, ["1 L"]), ("B", "any", 3, ["1 L"]))
    spreads = {"A": UNIT["R"], "B": UNIT["R"], "R": UNIT["R"]}
    assert not has_closed_form(two, spreads)
    assert not has_closed_form(manoeuvre_of(("R", "largest", 3, ["1 L"])), UNIT)
    assert not has_closed_form(manoeuvre_of(("R", "any", 3, ["1 L"])), {"R": Spread(100.0, 0.0)})
    assert not has_closed_form(manoeuvre_of(("R", "any", 3, ["1 L"]), learning=Learning(0.1, 3)), UNIT)
    with pytest.raises(ValueError, match="no closed form"):
        ended_by_rule(two, spreads)
