"""What would mend a time point: each suggestion is simulated again here, and is the smallest of its kind."""

from dataclasses import replace

import pytest

from planner.timing.simulate import simulate
from planner.timing.suggest import suggest

ROW = "- {id: row, title: Row, exercise: true, takes: 20 min}\n"
# blow from 1:00 ends at 3:00, 3:50 or 4:40 (0.46, 0.36, 0.18), mouth prepares 45 s and blows 1:30
CROWDED = (
    ROW + "- {id: after, title: A, measure: [blow, mouth], due: {after: row, at: [1 min, 6 min], late: 30 s}}"
)


def _by_kind(suggestions):
    found = {}
    for suggestion in suggestions:
        found.setdefault(suggestion.kind, suggestion)
    return found


@pytest.fixture
def found(visit):
    """Ends 5:15, 6:05, 6:55; the second time point may begin by 6:30: kept in 0.82."""
    return _by_kind(suggest(visit(CROWDED), chance=0.95))


def test_a_wider_late_and_a_later_time(found):
    """6:55 is 25 s beyond the window: in whole tens, 30 s."""
    wider, later = found["wider late"], found["other time"]
    assert (wider.path, wider.value) == (("visit", 1, "due", "late"), ("30 s", "1 min"))
    assert (later.path, later.value) == (("visit", 1, "due", "at"), ("1 min", "6 min 30 s"))
    assert wider.before.share == pytest.approx(0.8208, abs=0.01)
    assert wider.after.share == later.after.share == 1


def test_a_lower_at_most(found):
    """Four efforts end at 6:05."""
    change = found["lower at_most"]
    assert (change.path, change.value) == (
        ("manoeuvres", "blow", "efforts"),
        {"at_least": "3", "at_most": "4"},
    )
    assert "without agreement" in change.cost


def test_fewer_manoeuvres_come_last(visit):
    suggestions = suggest(visit(CROWDED), chance=0.95)
    assert suggestions[-1].kind == "fewer manoeuvres"
    assert suggestions[-1].path == ("visit", 1, "measure")


def test_another_order_where_preparing_comes_first(visit):
    """mouth prepares 45 s before its first effort and is late; blow needs no preparing and goes first."""
    steps = ROW + "- {id: after, title: A, measure: [mouth, blow], due: {after: row, at: 30 s, late: 0 s}}"
    order = _by_kind(suggest(visit(steps)))["another order"]
    assert (order.value, order.before.share, order.after.share) == (("blow", "mouth"), 0, 1)


def test_a_second_person_prepares(visit):
    """mouth's own rig can be made ready during the row; five's spirometer is in use before it."""
    steps = ROW + "- {id: after, title: A, measure: [mouth], due: {after: row, at: 30 s, late: 0 s}}"
    ready = _by_kind(suggest(visit(steps)))["second person"]
    assert (ready.path, ready.value, ready.after.share) == (("manoeuvres", "mouth", "prepare"), "0 s", 1)
    steps = """
    - {id: pre, title: P, measure: [blow]}
    - {id: after, title: A, measure: [five], due: {after: pre, at: 30 s, late: 0 s}}
    """
    assert "second person" not in _by_kind(suggest(visit(steps)))


def test_before_is_widened_by_early(visit):
    """blow stands between: the gap is 2:00, 2:50 or 3:40, and up to 2:30 is on time."""
    steps = """
    - {id: pre, title: P, measure: [quick], due: {before: row, at: 1 min, early: 90 s, late: 0 s}}
    - {id: between, title: B, measure: [blow]}
    - {id: row, title: Row, exercise: true, takes: 20 min}
    """
    wider = _by_kind(suggest(visit(steps)))["wider early"]
    assert (wider.path, wider.value) == (("visit", 0, "due", "early"), "2 min 40 s")


def test_each_reaches_the_chance_and_breaks_nothing_else(visit):
    protocol = visit(CROWDED)
    for suggestion in suggest(protocol, chance=0.9):
        assert suggestion.after.share >= 0.9
        assert suggestion.all_after.share >= suggestion.all_before.share


def test_nothing_to_mend(visit):
    steps = ROW + "- {id: after, title: A, measure: [blow], due: {after: row, at: 1 min, late: 0 s}}"
    assert suggest(visit(steps)) == ()


def test_the_widened_protocol_is_as_good_as_told(visit):
    """The suggestion's words put into the protocol by hand."""
    protocol = visit(CROWDED)
    wider = _by_kind(suggest(protocol))["wider late"]
    step = protocol.visit[1]
    points = (step.due.time_points[0], replace(step.due.time_points[1], late_s=60))
    changed = replace(
        protocol, visit=(protocol.visit[0], replace(step, due=replace(step.due, time_points=points)))
    )
    assert simulate(changed).chance(1) == wider.after


def test_a_change_that_breaks_another_time_point_is_not_suggested(visit):
    """Begun at 6:30 instead of 6:00, a set of 5:55 ends at 12:25, after the third time point."""
    due = "{after: row, at: [1 min, 6 min, 12 min], late: [30 s, 30 s, 0 s]}"
    steps = ROW + "- {id: after, title: A, measure: [blow, mouth], due: " + due + "}"
    kinds = {suggestion.kind for suggestion in suggest(visit(steps)) if suggestion.at_s == 360}
    assert "other time" not in kinds
    assert "wider late" in kinds


def test_another_time_before_a_step_keeps_them_falling(visit):
    """blow between takes up to 3:40; 90 s early on 2 min 10 s reaches that far."""
    steps = """
    - {id: pre, title: P, measure: [quick], due: {before: row, at: [20 min, 1 min], early: 90 s, late: 0 s}}
    - {id: between, title: B, measure: [blow]}
    - {id: row, title: Row, exercise: true, takes: 20 min}
    """
    other = _by_kind(suggest(visit(steps)))["other time"]
    assert (other.at_s, other.value) == (60, ("20 min", "2 min 10 s"))
