"""The earliest last day by chains and rooms together, against every choice of days tried."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest

from planner.clock import ClockRange, Interval, at_clock, clock_time
from planner.packing.bounds.joint_chains import cannot_end_by, least_day_of_chains
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.hours import number_of
from planner.schedule.plans import visit_plans
from planner.study.model import DaySpan, Study, Visit
from planner.study.read import read_study

SMALL = read_study(Path(__file__).parents[2] / "data" / "small")
PLANS = visit_plans(SMALL)
DAYS = sorted(SMALL.open)
EVER = Budget(float("inf"))


def _study(seed: int) -> Study:
    """Three participants of two or three visits, days apart, each with days of their own; few a day."""
    draw = random.Random(seed)
    kind = SMALL.asked["ROW-01"][-1]
    asked, available = {}, {}
    for who in ("P1", "P2", "P3"):
        gap = draw.choice([DaySpan(draw.choice([0, 1, 2]), draw.choice([2, 3, None])), None])
        visits = [
            replace(kind, participant=who, number=n + 1, start=None, gap=gap if n else None)
            for n in range(draw.choice([2, 3]))
        ]
        asked[who] = tuple(visits)
        may = [day for day in DAYS if draw.random() < 0.8]
        hours = clock_time("08:00"), clock_time("17:00")
        available[who] = tuple(
            (Interval(*(at_clock(day, clock, SMALL.zone) for clock in hours)), None) for day in may
        )
    cap = draw.choice([1, 2])
    who = tuple(asked)
    return replace(
        SMALL, participants=who, asked=asked, available=available, wishes=(), at_most_visits_a_day=cap
    )


def _chains(study: Study, visits: Sequence[Visit]) -> list[tuple[int, ...]]:
    """Every choice of days for one participant's visits in order."""
    numbers = [number_of(on, study) for on, *_ in ((day,) for day in DAYS) if study.may_come(visits[0], on)]
    found = []
    for days in product(numbers, repeat=len(visits)):
        steps = [(b - a, v.gap) for a, b, v in zip(days, days[1:], visits[1:], strict=False)]
        spans = [(s, g or DaySpan(0, None)) for s, g in steps]
        if all(g.at_least <= s and (g.at_most is None or s <= g.at_most) for s, g in spans):
            found.append(days)
    return found


def _truth(study: Study, rooms: dict[int, int]) -> int | None:
    """The earliest last day of all choices that keep every gap and room; None where there is no choice."""
    ends = []
    for choice in product(*(_chains(study, visits) for visits in study.asked.values())):
        taken = Counter(day for days in choice for day in days)
        if all(count <= rooms[day] for day, count in taken.items()):
            ends.append(max(taken))
    return min(ends, default=None)


@pytest.mark.parametrize("seed", range(40))
def test_the_earliest_last_day_is_that_of_the_best_choice(seed: int):
    study = _study(seed)
    bounds = Bounds(study, PLANS)
    last = number_of(study.last_day, study)
    best = _truth(study, bounds.rooms(last))
    assert cannot_end_by(bounds, last, EVER, 5.0) == (best is None)
    if best is not None:
        assert least_day_of_chains(bounds, 0, last, EVER) == best
        assert bounds.least_last_day() <= best


def test_two_chains_that_interlock_are_seen_where_a_flow_of_visits_into_days_sees_nothing():
    """Days 0, 1, 3 and 4, one visit each; one participant comes on days in a row, the other three days apart.

    By hand: 0 and 1, or 3 and 4; and 0 and 3, or 1 and 4. Each pair of the one meets each of the other.
    """
    kind = SMALL.asked["ROW-01"][-1]
    asked = {}
    for who, apart in (("P1", 1), ("P2", 3)):
        first = replace(kind, participant=who, number=1, start=None, gap=None)
        asked[who] = (first, replace(first, number=2, gap=DaySpan(apart, apart)))
    study = replace(
        SMALL, participants=tuple(asked), asked=asked, available={}, wishes=(), at_most_visits_a_day=1
    )
    bounds = Bounds(study, PLANS)
    last = number_of(study.last_day, study)
    assert bounds.fits_by(last)
    assert cannot_end_by(bounds, last, EVER, 5.0)


@pytest.mark.parametrize(
    ("gap", "end"), [(None, 0), (DaySpan(0, 3), 0), (DaySpan(0, 0), 0), (DaySpan(1, 3), 1)]
)
def test_two_visits_of_one_participant_may_share_a_day_where_nothing_forbids_it(
    gap: DaySpan | None, end: int
):
    assert _earliest(_pair(gap), room=2) == end


def test_they_need_hours_that_hold_both_in_their_order():
    """A visit that may start until noon only cannot follow one that may not start before noon."""
    study = _pair(None, ("12:00-13:00", "08:00-11:30"))
    assert _earliest(study, room=2) == 1


def test_they_need_one_time_of_day_that_holds_both_starts():
    study = replace(_pair(None), same_time_of_day_s=60)
    assert _earliest(study, room=2) == 1


def _pair(gap: DaySpan | None, starts: tuple[str, str] | None = None) -> Study:
    """One participant's two visits, that far apart."""
    kind = replace(SMALL.asked["ROW-01"][-1], participant="P1", start=None)
    rules = [ClockRange(*map(clock_time, text.split("-"))) for text in starts] if starts else [None, None]
    visits = tuple(
        replace(kind, number=n + 1, gap=gap if n else None, start=rule) for n, rule in enumerate(rules)
    )
    return replace(
        SMALL, participants=("P1",), asked={"P1": visits}, available={}, wishes=(), at_most_visits_a_day=None
    )


def _earliest(study: Study, room: int) -> int:
    bounds = Bounds(study, PLANS)
    for day in study.open:
        bounds.lower_room(day, room)
    last = number_of(study.last_day, study)
    assert bounds.least_last_day() == least_day_of_chains(bounds, 0, last, EVER)
    return bounds.least_last_day()
