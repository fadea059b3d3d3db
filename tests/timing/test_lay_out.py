"""Plans and exact bounds of visits worked out by hand, to the second."""

from decimal import Decimal

import pytest

from planner.timing.bounds import bounds
from planner.timing.lay_out import cannot_be_kept, lay_out, planned_efforts
from planner.timing.learned import Estimate, Learned
from planner.timing.plan import Kind, Moment, Why

P80 = Decimal("0.80")
ROW = "- {id: row, title: Row, exercise: true, takes: 20 min}\n"


def _times(plan):
    """(step, at, manoeuvre, start, end) of each activity."""
    return [
        (a.step, a.at_s, a.manoeuvre, start, start + a.length_s)
        for a, start in zip(plan.activities, plan.starts_s, strict=True)
    ]


def test_steps_follow_at_once(visit):
    steps = """
    - {id: arrive, title: Arrive, takes: 10 min}
    - {id: measures, title: M, measure: [five, mouth]}
    - {id: sit, title: Sit, rest: 5 min}
    """
    plan = lay_out(visit(steps), P80)
    assert _times(plan) == [
        ("arrive", None, None, 0, 600),
        ("measures", None, "five", 600, 780),  # 60 + 3 x 20 + 2 x 30
        ("measures", None, "mouth", 780, 915),  # 45 + 3 x 10 + 2 x 30
        ("sit", None, None, 915, 1215),
    ]
    assert (plan.shortest_s, plan.alone_s, plan.longest_s) == (1215, 1215, 1215)
    assert [a.kind for a in plan.activities] == [Kind.TASK, Kind.BLOCK, Kind.BLOCK, Kind.REST]


def test_due_is_the_first_effort(visit):
    """five at 5 min: preparing starts at 4 min. quick prepares nothing."""
    due = "{after: row, at: [5 min, 10 min], early: 30 s, late: 1 min}"
    steps = ROW + "- {id: after, title: A, measure: [five], due: " + due + "}"
    plan = lay_out(visit(steps), P80)
    assert _times(plan)[1:] == [("after", 300, "five", 1440, 1620), ("after", 600, "five", 1740, 1920)]
    # first effort at 9:30 or 11:00, two minutes of efforts
    assert bounds(visit(steps)) == (1200 + 570 + 120, 1200 + 660 + 120)


def test_due_step_without_blocks_counts_to_its_start(visit):
    steps = (
        ROW + "- {id: cool, title: C, takes: 3 min, due: {after: row, at: 2 min, early: 1 min, late: 90 s}}"
    )
    plan = lay_out(visit(steps), P80)
    assert _times(plan)[1] == ("cool", 120, None, 1320, 1500)
    assert bounds(visit(steps)) == (1440, 1590)
    assert plan.windows[0].later.moment is Moment.START


BLOW_TWICE = (
    ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: [1 min, 4 min], late: 30 s}}"
)


@pytest.mark.parametrize(
    ("plan_on", "efforts", "starts"),
    [
        ("0.46", 3, [1260, 1440]),  # 1 min to 3 min; then at its time
        ("0.80", 4, [1260, 1440]),  # 1 min to 3:50
        ("0.83", 5, [1260, 1480]),  # 1 min to 4:40: as soon after as can be
    ],
)
def test_planned_efforts_move_what_follows(visit, plan_on, efforts, starts):
    """Any three within 1.5 SD: done by 3, 4, 5 efforts in 0.4614, 0.8208, 0.975."""
    protocol = visit(BLOW_TWICE)
    assert planned_efforts(protocol, Decimal(plan_on))["blow"] == efforts
    plan = lay_out(protocol, Decimal(plan_on))
    assert list(plan.starts_s[1:]) == starts
    assert plan.alone_s == starts[1] + efforts * 50 - 30


def test_shortest_and_longest_of_a_crowded_series(visit):
    """Shortest: 1:00 to 3:00, 4:00 to 6:00. Longest: 1:30 to 5:10 pushes 4:30 to 5:10, which ends at 8:50."""
    assert bounds(visit(BLOW_TWICE)) == (1200 + 360, 1200 + 530)


def test_a_window_that_planned_lengths_break(visit):
    protocol = visit(BLOW_TWICE)
    assert cannot_be_kept(lay_out(protocol, P80)) is None
    fault = cannot_be_kept(lay_out(protocol, Decimal("0.90")))
    assert "90 %" in fault.message
    assert "blow of 'after' at 1 min: 5 efforts" in fault.message
    assert "'after' at 4 min" in fault.message
    assert "= 4 min 40 s at least, but only 4 min 30 s lie between" in fault.message


def test_before_waits_until_the_gap_is_as_written(visit):
    steps = """
    - {id: arrive, title: Arrive, takes: 10 min}
    - {id: pre, title: P, measure: [five], due: {before: row, at: 5 min, early: 1 min, late: 2 min}}
    - {id: row, title: Row, exercise: true, takes: 20 min}
    """
    plan = lay_out(visit(steps), P80)
    assert _times(plan)[1:] == [("pre", 300, "five", 600, 780), ("row", None, None, 1080, 2280)]
    assert bounds(visit(steps)) == (780 + 180 + 1200, 780 + 360 + 1200)
    (window,) = plan.windows
    assert (window.low_s, window.target_s, window.high_s) == (180, 300, 360)
    assert (window.earlier.moment, window.later.moment) == (Moment.END, Moment.START)


def test_a_series_before_a_step_falls(visit):
    """quick ends at 10 s; row 30 min later; the second quick ends 10 min before row."""
    steps = """
    - id: pre
      title: P
      measure: [quick]
      due: {before: row, at: [30 min, 10 min], early: 2 min, late: 5 min}
    - {id: row, title: Row, exercise: true, takes: 20 min}
    """
    plan = lay_out(visit(steps), P80)
    assert _times(plan) == [
        ("pre", 1800, "quick", 0, 10),
        ("pre", 600, "quick", 1200, 1210),
        ("row", None, None, 1810, 3010),
    ]
    assert bounds(visit(steps)) == (10 + 1500 + 1200, 10 + 1920 + 1200)


def test_before_is_drawn_towards_a_step_that_something_else_holds_back(visit):
    """last cannot start before 20 min + 2 min of hold; pre would end 22 min before it, so it waits."""
    steps = """
    - {id: arrive, title: Arrive, takes: 1 min}
    - {id: pre, title: P, measure: [quick], due: {before: last, at: 5 min, early: 1 min, late: 1 min}}
    - {id: hold, title: H, takes: 2 min, due: {after: arrive, at: 20 min, late: 0 s}}
    - {id: last, title: L, takes: 1 min}
    """
    plan = lay_out(visit(steps), P80)
    assert _times(plan) == [
        ("arrive", None, None, 0, 60),
        ("pre", 300, "quick", 60 + 1200 + 120 - 300 - 10, 1080),
        ("hold", 1200, None, 1260, 1380),
        ("last", None, None, 1380, 1440),
    ]


def test_what_a_later_step_must_follow_closely_waits(visit):
    """talk ends one minute before the measure due 20 min after row, not 18 min before it."""
    steps = ROW + (
        "- {id: talk, title: T, takes: 1 min}\n"
        "- {id: after, title: A, measure: [quick], starts_within: 1 min,\n"
        "   due: {after: row, at: 20 min, late: 0 s}}"
    )
    plan = lay_out(visit(steps), P80)
    assert _times(plan)[1:] == [("talk", None, None, 2280, 2340), ("after", 1200, "quick", 2400, 2410)]


def test_two_steps_of_one_series_interleave(visit):
    """Equal times stay in listed order: b at 5 min starts when a has ended."""
    steps = ROW + (
        "- {id: a, title: A, measure: [quick], due: {after: row, at: [5 min, 10 min], late: 1 min}}\n"
        "- {id: b, title: B, measure: [quick], due: {after: row, at: [1 min, 5 min], late: 1 min}}"
    )
    assert _times(lay_out(visit(steps), P80))[1:] == [
        ("b", 60, "quick", 1260, 1270),
        ("a", 300, "quick", 1500, 1510),
        ("b", 300, "quick", 1510, 1520),
        ("a", 600, "quick", 1800, 1810),
    ]


def test_steps_due_from_different_ends_are_no_series(visit):
    steps = ROW + (
        "- {id: a, title: A, measure: [quick], due: {after: row, at: 5 min, late: 1 min}}\n"
        "- {id: b, title: B, measure: [quick], due: {after: row, from: start, at: 21 min, late: 10 min}}"
    )
    assert _times(lay_out(visit(steps), P80))[1:] == [
        ("a", 300, "quick", 1500, 1510),
        ("b", 1260, "quick", 1510, 1520),
    ]


def test_during_lies_inside_the_bout(visit):
    """five first blows at 10 min: it prepares from 9 min; two entries are sorted by time."""
    steps = """
    - id: row
      title: Row
      exercise: true
      takes: 20 min
      during:
        - {measure: [five], at: [10 min], late: 1 min}
        - {measure: [quick], at: [5 min, 15 min], late: 1 min}
    - {id: sit, title: Sit, rest: 1 min}
    """
    plan = lay_out(visit(steps), P80)
    assert _times(plan) == [
        ("row", None, None, 0, 1200),
        ("row", 300, "quick", 300, 310),
        ("row", 600, "five", 540, 720),
        ("row", 900, "quick", 900, 910),
        ("sit", None, None, 1200, 1260),
    ]
    assert [a.inside for a in plan.activities] == [None, 0, 0, 0, None]
    inside = [link for link in plan.links if link.why is Why.INSIDE]
    assert len(inside) == 6


def test_times_that_a_bout_reaches(visit):
    steps = """
    - id: row
      title: Row
      exercise: true
      takes: {about: 12 min, shortest: 6 min, longest: 20 min}
      during:
        - {measure: [quick], at: [5 min, 11 min 50 s, 15 min], late: 30 s, if_reached: true}
    - {id: after, title: A, measure: [quick], due: {after: row, at: 2 min, late: 30 s}}
    """
    plan = lay_out(visit(steps), P80)
    assert _times(plan) == [
        ("row", None, None, 0, 720),
        ("row", 300, "quick", 300, 310),
        ("row", 710, "quick", 710, 720),
        ("after", 120, "quick", 840, 850),
    ]
    assert (plan.shortest_s, plan.longest_s) == (360 + 130, 1200 + 160)


def test_from_start_is_pushed_by_a_long_bout(visit):
    """about 18 min: at 20 min from the start. Longest 30 min: as soon after as preparing allows."""
    steps = """
    - {id: row, title: Row, exercise: true, takes: {about: 18 min, shortest: 8 min, longest: 30 min}}
    - id: after
      title: A
      measure: [five]
      due: {after: row, from: start, at: 20 min, early: 1 min, late: 11 min}
    """
    plan = lay_out(visit(steps), P80)
    assert _times(plan)[1] == ("after", 1200, "five", 1140, 1320)
    assert bounds(visit(steps)) == (19 * 60 + 120, 31 * 60 + 120)


def test_kept_rigs_are_cleared_once(visit):
    """five and blow share the spirometer; the meter between two spirometers breaks the run."""
    head = """
format: 1
name: kept
title: Kept
version: "1.0"
manoeuvres:
  a: {title: A, rig: spirometer, effort: 10 s, efforts: 1, clear: 2 min}
  b: {like: a, rig: [spirometer, meter]}
  c: {like: a, rig: meter}
visit:
"""
    plan = lay_out(
        visit("- {id: m, title: M, measure: [a, b, c]}\n- {id: n, title: N, measure: [c]}", head), P80
    )
    assert [a.keeps for a in plan.activities] == [("spirometer",), ("meter",), (), ()]
    assert [a.clear is None for a in plan.activities] == [True, False, False, False]


def test_tasks_and_bouts_joined_without_a_gap_keep_their_rig(visit):
    steps = """
    - {id: warm, title: W, exercise: true, takes: 5 min, rig: ergometer, clear: 3 min}
    - {id: row, title: R, exercise: true, takes: 20 min, rig: ergometer, clear: 3 min, starts_within: 0 s}
    - {id: cool, title: C, exercise: true, takes: 5 min, rig: ergometer, clear: 3 min, starts_within: 1 s}
    """
    plan = lay_out(visit(steps), P80)
    assert [a.keeps for a in plan.activities] == [("ergometer",), (), ()]
    assert [a.clear is None for a in plan.activities] == [True, False, False]


def test_what_the_record_has_taught_replaces_the_assumed(visit):
    """prepare 60 -> 90 s, effort 20 -> 25 s; a bout 18 -> 25 min; sit starts 40 s later than it could."""
    steps = """
    - {id: row, title: Row, exercise: true, takes: {about: 18 min, shortest: 8 min, longest: 30 min}}
    - {id: after, title: A, measure: [five], due: {after: row, at: 5 min, late: 1 min}}
    - {id: sit, title: Sit, rest: 1 min}
    """
    learned = Learned(
        prepare_s={("timed", "five"): Estimate(60, 90.2, 12)},
        effort_s={("timed", "five"): Estimate(20, 24.6, 12)},
        bout_s={("timed", "row"): Estimate(1080, 1500, 9)},
        delay_s={("timed", "sit"): Estimate(0, 40, 9)},
    )
    plan = lay_out(visit(steps), P80, learned)
    assert _times(plan) == [
        ("row", None, None, 0, 1500),
        ("after", 300, "five", 1710, 1710 + 90 + 3 * 25 + 60),
        ("sit", None, None, 1935 + 40, 1935 + 100),
    ]
    assert plan.shortest_s == 480 + 300 + 120 + 60  # as the protocol says


def test_links_are_one_window_a_time_point(visit):
    plan = lay_out(visit(BLOW_TWICE), P80)
    assert [(w.low_s, w.target_s, w.high_s, w.path) for w in plan.windows] == [
        (60, 60, 90, ("visit", 1, "due", "at", 0)),
        (240, 240, 270, ("visit", 1, "due", "at", 1)),
    ]


def test_a_series_before_a_step_with_a_bout_between(visit):
    """The second quick ends 25 min before last, itself 30 min after the first; the bout follows at once."""
    steps = """
    - {id: pre, title: P, measure: [quick], due: {before: last, at: [30 min, 25 min], late: 0 s}}
    - {id: row, title: Row, exercise: true, takes: 10 min}
    - {id: last, title: L, takes: 1 min}
    """
    assert _times(lay_out(visit(steps), P80)) == [
        ("pre", 1800, "quick", 0, 10),
        ("pre", 1500, "quick", 300, 310),
        ("row", None, None, 310, 910),
        ("last", None, None, 1810, 1870),
    ]


def test_without_a_rule_a_block_is_no_longer_than_at_least(visit):
    head = """
format: 1
name: free
title: Free
version: "1.0"
manoeuvres:
  a: {title: A, rig: meter, effort: 10 s, rest: 20 s, efforts: {at_least: 2, at_most: 6}}
visit:
"""
    assert bounds(visit("- {id: m, title: M, measure: [a]}", head)) == (40, 40)
