"""Known lengths and spreads, played into a record, come back; their ranges hold them as often as stated."""

import math
import random
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.adherence.learn import MOST_DRAWN, PRIOR_WEIGHT, learn, lessons, stand_ins
from planner.protocol.agreement import ended_after

TRUE = {"rest": 41.0, "preparing": 66.0, "spread": 0.13, "delay": 50.0}


def played(by_hand, code, draw):
    """A visit of people who rest, prepare and blow otherwise than assumed; the stop rule holds."""
    start = by_hand.start
    visit = by_hand.kept(code, 1, start)
    visit.efforts.clear()
    visit.marks.clear()
    arrived = round(draw.gauss(600, 20))
    row = 1140 + arrived - 600 + 600
    length = round(draw.triangular(480, 1800, 1200))
    visit.marks |= {("arrive", "start"): start, ("arrive", "end"): by_hand.at(0, arrived)}
    visit.marks |= {("row", "start"): by_hand.at(0, row), ("row", "end"): by_hand.at(0, row + length)}
    block(by_hand, visit, ("ready", 300, "fvc"), arrived + 90, draw)
    for at_s in (60, 900):
        end = block(by_hand, visit, ("after", at_s, "fvc"), row + length + at_s, draw)
        first = end + max(0, round(draw.gauss(TRUE["preparing"], 8)))
        end = block(by_hand, visit, ("after", at_s, "mep"), first, draw)
    visit.marks["sit", "start"] = by_hand.at(0, end + max(0, round(draw.gauss(TRUE["delay"], 10))))
    return visit


def block(by_hand, visit, label, first_s, draw):
    manoeuvre = by_hand.protocol.manoeuvres[label[2]]
    starts, values, begin = [], [], first_s
    for number in range(1, manoeuvre.at_most + 1):
        starts.append(by_hand.at(0, begin))
        level, name, sd = (4.8, "FVC", TRUE["spread"]) if label[2] == "fvc" else (140.0, "MEP", 7.0)
        values.append({name: Decimal(round(draw.gauss(level, sd) * 10_000)) / 10_000})
        end = begin + manoeuvre.effort_s
        over = ended_after(manoeuvre, values) if manoeuvre.enough else number >= manoeuvre.at_least
        if over:
            break
        begin = end + max(0, round(draw.gauss(TRUE["rest"], 6)))
    visit.efforts[label] = starts
    visit.values[label] = [
        by_hand.fvc(str(v["FVC"]))[0] if "FVC" in v else mep(str(v["MEP"]), by_hand) for v in values
    ]
    return end


def mep(value, by_hand):
    return by_hand.values("MEP", value, "cmH2O")


def record(by_hand, people, seed):
    draw = random.Random(seed)
    visits = [played(by_hand, f"ROW-{n:03d}", draw) for n in range(people)]
    study = by_hand.study_of([(f"ROW-{n:03d}", 1, "mild air") for n in range(people)])
    return study, by_hand.happened_of(*visits)


def test_known_parameters_come_back(by_hand):
    """150 visits; each within four standard errors of what was played."""
    study, happened = record(by_hand, 150, 3)
    found = {(one.what, one.of, one.reading): one for one in lessons(study, happened)}
    rest, preparing = found["rest", "fvc", None], found["preparing", "mep", None]
    assert rest.seen == pytest.approx(TRUE["rest"], abs=4 * 6 / math.sqrt(rest.observations))
    assert preparing.seen == pytest.approx(TRUE["preparing"], abs=4 * 8 / math.sqrt(300))
    assert found["delay", "sit", None].seen == pytest.approx(TRUE["delay"], abs=4 * 10 / math.sqrt(150))
    assert found["spread", "fvc", "FVC"].seen == pytest.approx(TRUE["spread"], rel=4 / math.sqrt(2 * 900))
    assert found["spread", "mep", "MEP"].seen == pytest.approx(7.0, rel=4 / math.sqrt(2 * 600))
    assert found["length", "row", None].seen == pytest.approx(1160, abs=4 * 270 / math.sqrt(150))
    assert found["length", "row", None].assumed == 1160


def test_shrinkage_weighs_the_assumption_as_stated(by_hand):
    """Three rests of 50 s in the whole record of FVC rests: (20 * 30 + 3 * 50) / 23."""
    visit = by_hand.kept()
    visit.efforts = {("ready", 300, "fvc"): [by_hand.at(12, 70 * n) for n in range(4)]}
    estimate = learn(by_hand.study, by_hand.happened_of(visit)).rest_s["rowing", "fvc"]
    assert estimate.assumed == 30
    assert estimate.observations == 3
    assert estimate.learned == pytest.approx((PRIOR_WEIGHT * 30 + 3 * 50) / (PRIOR_WEIGHT + 3))


def test_what_is_drawn_holds_the_assumption_as_often_as_it_weighs():
    drawn = stand_ins([7.0, -3.0, 7.0], 0.0)
    assert drawn == (-3.0, *[0.0] * PRIOR_WEIGHT, 7.0, 7.0)


@given(st.lists(st.floats(-100, 1000), min_size=300, max_size=900))
def test_many_observations_are_drawn_by_as_many_values_as_allowed(values):
    """Their mean is that of the mixture, and their quartiles lie beside NumPy's of it."""
    drawn, whole = stand_ins(values, 0.0), np.array([*values, *[0.0] * PRIOR_WEIGHT])
    assert len(drawn) == MOST_DRAWN
    assert np.mean(drawn) == pytest.approx(whole.mean(), abs=0.01)
    assert list(drawn) == sorted(drawn)
    for share in (0.25, 0.5, 0.75):
        low, high = np.quantile(whole, [share - 0.011, share + 0.011])
        assert low - 0.01 <= np.quantile(drawn, share) <= high + 0.01


def test_what_was_not_seen_stays_as_assumed(by_hand):
    learned = learn(by_hand.study, by_hand.happened_of())
    assert (learned.spread, learned.rest_s, learned.bout_s, learned.clear_s) == ({}, {}, {}, {})
    assert learn(by_hand.study, by_hand.happened_of(by_hand.kept())).effort_s == {}


def test_a_bout_that_a_stop_cut_short_teaches_nothing(by_hand):
    visit = by_hand.kept()
    visit.stopped = visit.marks["row", "end"] = by_hand.at(25)
    learned = learn(by_hand.study, by_hand.happened_of(visit))
    assert ("rowing", "row") not in learned.bout_s
    assert learned.bout_s["rowing", "arrive"].observations == 1


def test_few_efforts_have_no_range(by_hand):
    found = [
        one for one in lessons(by_hand.study, by_hand.happened_of(by_hand.kept())) if one.what == "spread"
    ]
    assert [(one.of, one.observations, one.low) for one in found] == [("fvc", 9, None), ("mep", 12, None)]


def test_the_within_subject_sd_of_the_published_data(by_hand):
    """Bland & Altman, BMJ 1996;313:744, table 1: 20 children, four peak flows each; s_w = 21.46 L/min.

    Rows 1-16 and the data's use as read, rows 17-20 from memory; the same mean of squares is used here.
    """
    rows = np.array(PEAK_FLOWS).reshape(20, 4)
    visits = []
    for n, row in enumerate(rows):
        visit = by_hand.kept(f"ROW-{n:02d}", 1, by_hand.start)
        visit.efforts = {("after", 60, "pef"): [by_hand.at(40, 50 * k) for k in range(4)]}
        visit.values = {("after", 60, "pef"): [by_hand.values("PEF", str(v), "L/min") for v in row]}
        visits.append(visit)
    study = by_hand.study_of([(f"ROW-{n:02d}", 1, "mild air") for n in range(20)])
    protocol = by_hand.with_peak_flow(study.protocols["rowing.yaml"])
    study = by_hand.replace(study, protocols={"rowing.yaml": protocol})
    (one,) = [o for o in lessons(study, by_hand.happened_of(*visits)) if o.what == "spread"]
    assert one.seen == pytest.approx(21.46, abs=0.005)
    assert one.seen**2 == pytest.approx(460.52, abs=0.005)
    assert 2.77 * one.seen == pytest.approx(59.4, abs=0.1)


PEAK_FLOWS = [
    190, 220, 200, 200, 220, 200, 240, 230, 260, 260, 240, 280, 210, 300, 280, 265, 270, 265, 280, 270,
    280, 280, 270, 275, 260, 280, 280, 300, 275, 275, 275, 305, 280, 290, 300, 290, 320, 290, 300, 290,
    300, 300, 310, 300, 270, 250, 330, 370, 320, 330, 330, 330, 335, 320, 335, 375, 350, 320, 340, 365,
    360, 320, 350, 345, 330, 340, 380, 390, 335, 385, 360, 370, 400, 420, 425, 420, 430, 460, 480, 470,
]  # fmt: skip
