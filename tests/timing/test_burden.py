"""What a visit asks of the participant, counted by hand."""

import pytest

from planner.timing.burden import Span, burden, study_burden

STEPS = """
- {id: arrive, title: Arrive, takes: 5 min}
- {id: row, title: Row, exercise: true, takes: 20 min}
- {id: after, title: A, measure: [blow, mouth], due: {after: row, at: [1 min, 10 min], late: 0 s}}
- {id: sit, title: Sit, rest: 3 min}
"""


def test_one_visit(visit):
    """Twice blow (3 to 5 efforts of 20 s) and mouth (3 of 10 s, after 45 s of preparing)."""
    found = burden(visit(STEPS))
    assert (found.efforts.least, found.efforts.most) == (12, 16)
    assert found.efforts.expected == pytest.approx(6 + 2 * 3.72, abs=0.03)
    assert (found.visit_s.least, found.visit_s.most) == (300 + 1200 + 600 + 120 + 135 + 180, 2535 + 100)
    assert (found.mouthpiece_s.least, found.mouthpiece_s.most) == (2 * 60 + 2 * 30, 2 * 100 + 2 * 30)
    assert found.exercise_s == Span(1200, 1200, 1200)
    assert (found.rest_s.least, found.rest_s.most) == (4 * 60 + 180, 2 * 120 + 2 * 60 + 180)
    # 1 min before the first time point; from its end (1 min + blow + mouth) to 10 min
    assert (found.waiting_s.least, found.waiting_s.most) == (60 + 600 - 315, 60 + 600 - 415)


def test_times_that_a_bout_does_not_reach_ask_nothing(visit):
    steps = """
    - id: row
      title: Row
      exercise: true
      takes: {about: 12 min, shortest: 6 min, longest: 20 min}
      during: {measure: [quick], at: [5 min, 15 min], late: 0 s, if_reached: true}
    """
    found = burden(visit(steps))
    assert (found.efforts.least, found.efforts.most) == (1, 2)
    assert found.efforts.expected == pytest.approx(1.2086, abs=0.01)  # (1200 - 910)^2 / (840 x 480)


def test_a_window_that_may_be_late_hides_no_effort_of_the_longest_bout(visit):
    """At 15 min one effort of 10 s fits into 20 min, though the window lasts until the bout ends."""
    steps = """
    - id: row
      title: Row
      exercise: true
      takes: {about: 12 min, shortest: 6 min, longest: 20 min}
      during: {measure: [quick], at: [5 min, 15 min], late: 5 min, if_reached: true}
    """
    found = burden(visit(steps))
    assert (found.efforts.least, found.efforts.most) == (1, 2)


def test_a_study_adds_its_visits(visit):
    protocol = visit(STEPS)
    one, study = burden(protocol), study_burden([(protocol, 2), (protocol, 1)])
    assert study.efforts.most == 3 * one.efforts.most
    assert study.visit_s.expected == pytest.approx(3 * one.visit_s.expected)
    with pytest.raises(ValueError, match="without visits"):
        study_burden([])
