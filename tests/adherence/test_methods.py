"""The methods paragraph, every number against the record it was made from."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.adherence.compare import compare
from planner.adherence.methods import measured, methods_paragraph, quartiles

LATE_S = [-5, 0, 0, 2, 5, 10, 15, 20, 31, 64]


@pytest.fixture
def judged(by_hand):
    asked = [(f"ROW-{n:02d}", 1, "mild air") for n in range(10)]
    study = by_hand.study_of(asked)
    visits = []
    for n, (code, number, _) in enumerate(asked):
        visit = by_hand.kept(code, number, by_hand.days(n))
        visit.shift(("after", 60, "fvc"), LATE_S[n])
        visits.append(visit)
    return study, compare(study, None, by_hand.happened_of(*visits))


def test_the_sentence_of_the_first_time_point_after_exercise(judged):
    """55 60 60 62 65 70 75 80 91 124 s: median 67.5, quartiles 60.5 and 78.75 by hand; 7 in 60..90."""
    text = methods_paragraph(*judged)
    assert (
        "Forced vital capacity, the first of 2 measures, was measured at a median of 68 s "
        "(half of them between 60 and 79 s; 70 % within the window, 95 % range 40 to 89 %, 7 of 10) after "
        "the end of exercise."
    ) in text
    assert "measured at a median of 15:00 min (half of them just that; 100 % within" in text
    assert (
        "5:00 min (half of them just that; 100 % within the window, 95 % range 72 to 100 %, 10 of 10) before"
        in text
    )
    assert "Of all 50 time points, 47 (94 %, 95 % range 84 to 98 %) were on time." in text
    assert "not independent of each other: taking each of the 10 participants as a whole" in text
    assert "A measure took a median of 3 efforts (half of them just that; at most 4)." in text
    assert "Rests had a median of 30 s (half of them just that); 0 of 150 were cut short." in text


def test_methods_are_named_once_and_no_short_name_of_statistics_stands_alone(judged):
    text = methods_paragraph(*judged)
    assert text.count("Wilson") == text.count("bootstrap") == 1
    assert text.endswith(".")
    assert not re.search(r"\b(IQR|CI)\b", text)


def test_a_range_that_tells_nothing_is_left_out(by_hand):
    """All on time: whoever is drawn, all are on time, so the range by participants is no range."""
    asked = [(f"ROW-{n:02d}", 1, "mild air") for n in range(3)]
    study = by_hand.study_of(asked)
    kept = [by_hand.kept(code, number, by_hand.days(n)) for n, (code, number, _) in enumerate(asked)]
    text = methods_paragraph(study, compare(study, None, by_hand.happened_of(*kept)))
    assert "(100 %, 95 % range" in text
    assert "as a whole" not in text
    assert "bootstrap" not in text


def test_the_kinds_of_time_points_stand_in_the_order_of_the_visit(judged):
    assert [(one.step, one.at_s) for one in measured(*judged)] == [
        ("ready", 300), ("row", 300), ("row", 900), ("after", 60), ("after", 900)
    ]  # fmt: skip


def test_nothing_recorded_is_said(by_hand):
    found = compare(by_hand.study, None, by_hand.happened_of())
    assert methods_paragraph(by_hand.study, found) == "No time point has been recorded yet."


@given(st.lists(st.integers(-1000, 10_000), min_size=1, max_size=40))
def test_quartiles_are_those_of_numpy(values):
    assert quartiles(values) == pytest.approx(tuple(np.quantile(values, [0.25, 0.5, 0.75])))


def test_quartiles_of_a_table_worked_by_hand():
    """1 2 3 4 5 6 7 8: places 2.75, 4.5 and 6.25 of the row."""
    assert quartiles([8, 1, 7, 2, 6, 3, 5, 4]) == (2.75, 4.5, 6.25)
