"""The visit as it may go on when a bout lasts longer than planned."""

from decimal import Decimal
from pathlib import Path

import pytest

from planner.protocol.read import read_protocol
from planner.timing.followed import followed
from planner.timing.lay_out import lay_out
from planner.timing.plan import Moment, Why

ROOT = Path(__file__).parents[2]


@pytest.fixture
def plan():
    return lay_out(read_protocol(ROOT / "protocols" / "respiratory-muscle-fatigue.yaml"), Decimal("0.8"))


def inside(plan):
    return [(one.at_s, one.manoeuvre, one.planned_efforts) for one in plan.activities if one.step == "cycle"]


def test_time_points_beyond_the_planned_bout_are_offered_if_it_lasts(plan):
    assert inside(plan) == [(None, None, None), (180, "ic", 2), (480, "ic", 2)]
    assert inside(followed(plan)) == [
        (None, None, None),
        *((at_s, "ic", 2) for at_s in (180, 480, 780, 1080)),
    ]


def test_indices_links_and_windows_are_those_of_the_longer_list(plan):
    found = followed(plan)
    assert [one.index for one in found.activities] == list(range(len(found.activities)))
    bout = next(one.index for one in found.activities if one.step == "cycle" and one.inside is None)
    last = next(one for one in found.activities if one.at_s == 1080)
    assert last.inside == bout
    window = next(link for link in found.windows if link.later.activity == last.index)
    assert (window.earlier.activity, window.earlier.moment) == (bout, Moment.START)
    assert (window.low_s, window.high_s) == (1050, 1140)
    after = next(one for one in found.activities if (one.step, one.at_s) == ("after", 60))
    assert any(link.later.activity == after.index and link.why is Why.DUE for link in found.links)


def test_what_was_planned_keeps_its_place_and_length(plan):
    found = followed(plan)
    was = {(a.path, a.manoeuvre): (plan.starts_s[a.index], a.length_s) for a in plan.activities}
    now = {(a.path, a.manoeuvre): (found.starts_s[a.index], a.length_s) for a in found.activities}
    assert was.items() <= now.items()
    beyond = [now[key][0] - found.starts_s[4] for key in now.keys() - was.keys()]
    assert found.activities[4].step == "cycle"
    assert sorted(beyond) == [780, 1080]  # `ic` has no preparing
    assert found.alone_s == plan.alone_s


def test_a_time_point_that_not_even_the_longest_bout_reaches_is_never_offered(visit):
    protocol = visit(
        """
        - id: ride
          title: Ride
          exercise: true
          takes: {about: 5 min, shortest: 3 min, longest: 10 min}
          during: [{measure: quick, at: [2 min, 8 min, 12 min], late: 1 min, if_reached: true}]
        """
    )
    found = followed(lay_out(protocol, Decimal("0.8")))
    assert [one.at_s for one in found.activities] == [None, 120, 480]


def test_a_manoeuvre_that_only_a_longer_bout_reaches_has_its_planned_efforts(visit):
    protocol = visit(
        """
        - id: ride
          title: Ride
          exercise: true
          takes: {about: 5 min, shortest: 3 min, longest: 20 min}
          during: [{measure: [blow, quick], at: 8 min, late: 1 min, if_reached: true}]
        """
    )
    found = followed(lay_out(protocol, Decimal("0.8")))
    assert found.activities[0].planned_efforts is None
    assert found.activities[1].planned_efforts >= 3
    assert found.activities[2].planned_efforts == 1
    assert found.starts_s[2] > found.starts_s[1]


def test_a_plan_without_such_time_points_is_the_same(visit):
    plan = lay_out(visit("- {id: before, title: Before, measure: five}"), Decimal("0.8"))
    assert followed(plan) is plan
