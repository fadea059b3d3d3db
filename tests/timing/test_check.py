"""Warnings: what is kept only by luck, with its chance."""

from planner.timing.check import timing_warnings

ROW = "- {id: row, title: Row, exercise: true, takes: 20 min}\n"


def test_a_time_point_kept_only_if_blocks_end_early(visit):
    """blow from 1:00 takes at most 3:40, so ends at 4:40; the second may begin by 4:30."""
    steps = (
        ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 4 min], late: 30 s}}"
    )
    (warning,) = timing_warnings(visit(steps))
    assert warning.place.line == 19
    assert "kept in 82 of 100 simulated visits" in warning.message
    assert "5 efforts and 4 rests 3 min 40 s" in warning.message
    assert "= 4 min 40 s at least, but only 4 min 30 s lie between" in warning.message


def test_nothing_is_said_where_the_most_efforts_fit(visit):
    steps = (
        ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 4 min], late: 40 s}}"
    )
    assert timing_warnings(visit(steps)) == ()


def test_a_block_that_may_outlast_its_bout(visit):
    steps = """
    - id: row
      title: Row
      exercise: true
      takes: 20 min
      during: {measure: [blow], at: 17 min, late: 0 s}
    """
    (warning,) = timing_warnings(visit(steps))
    assert "kept in 82 of 100 simulated visits" in warning.message  # 17 min + 2:50 fits, + 3:40 does not


def test_a_contradictory_protocol_has_faults_first(visit):
    steps = (
        ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 2 min], late: 30 s}}"
    )
    assert timing_warnings(visit(steps)) == ()


def test_a_time_point_that_no_bout_reaches(visit):
    steps = """
    - id: row
      title: Row
      exercise: true
      takes: {about: 12 min, shortest: 6 min, longest: 20 min}
      during: {measure: [quick], at: [5 min, 20 min], late: 0 s, if_reached: true}
    """
    (warning,) = timing_warnings(visit(steps))
    assert warning.code == "never reached"
    assert warning.place.line == 22
