"""What is said of a whole study, against every choice of days counted out, each day solved completely."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import product
from pathlib import Path

import pytest

from planner.packing.bounds.alone import least_waiting_s
from planner.packing.bounds.rooms import lower_rooms
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.day import pack_day
from planner.packing.pack import pack
from planner.packing.problem import DayProblem
from planner.schedule.model import Outcome
from planner.schedule.plan_file import plan_json
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study, Visit
from planner.study.read import read_study

FIRST = date(2027, 3, 1)
DAYS = 4
NOW = datetime(2027, 1, 4, 8, tzinfo=UTC)
PROTOCOL = """format: 1
name: ride
title: Riding
version: "1"
cautions: [Stop when asked to.]
manoeuvres:
  fvc: {title: Forced vital capacity, rig: spirometer, staff: operator, prepare: 60 s, effort: 20 s,
        rest: 30 s, efforts: 3, clear: 2 min}
visit:
  - {id: ask, title: Questions, takes: 10 min, staff: lead}
  - {id: before, title: Before, measure: fvc}
  - {id: ride, title: Riding, exercise: true, takes: 15 min, rig: ergometer, staff: lead, clear: 3 min}
  - {id: after, title: After, measure: fvc, due: {after: ride, at: [2 min, 15 min], late: 1 min}}
"""


def _study(folder: Path, seed: int) -> Study:
    """Three participants, two visits each, four short days; who is there is drawn."""
    draw = random.Random(seed)
    days = [FIRST + timedelta(days=n) for n in range(DAYS)]
    closes = draw.choice(["09:30", "09:50", "10:20"])
    folder.mkdir()
    (folder / "ride.yaml").write_text(PROTOCOL, "utf-8")
    (folder / "study.yaml").write_text(
        f"""format: 1
name: bounded
time_zone: Europe/Oslo
visits: [{{id: one, protocol: ride.yaml}}, {{id: two, protocol: ride.yaml}}]
between_visits: {{at_least: 1 d}}
days: {{from: {days[0]}, to: {days[-1]}, open: {{mon-fri: "08:00-{closes}"}}}}
rigs: {{spirometer: [S1], ergometer: [E1]}}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
availability: availability.csv
""",
        "utf-8",
    )
    (folder / "staff.csv").write_text("person,roles\nA,operator;lead\nB,lead\n", "utf-8")
    shifts = [("A", str(day), "08:00", "11:00") for day in days]
    shifts += [("B", str(day), *draw.choice([("08:00", "11:00"), ("09:00", "11:00")])) for day in days]
    _table(folder / "shifts.csv", "person,days,from,to,breaks", [(*shift, "") for shift in shifts])
    (folder / "participants.csv").write_text("participant\nP1\nP2\nP3\n", "utf-8")
    may = [(who, day) for who in ("P1", "P2", "P3") for day in days if draw.random() < 0.85]
    lines = [(who, str(day), "08:00", draw.choice(["10:20", "10:20", "09:40"])) for who, day in may]
    _table(folder / "availability.csv", "participant,days,from,to", lines)
    return read_study(folder)


def _table(path: Path, head: str, rows: list[tuple[str, ...]]) -> None:
    path.write_text("\n".join([head, *(",".join(row) for row in rows)]) + "\n", "utf-8")


class _Truth:
    """Every choice of days tried; whether a day holds some visits is solved to its end."""

    def __init__(self, study: Study) -> None:
        self.study, self.plans = study, visit_plans(study)
        self.known: dict[tuple[date, frozenset[str]], bool] = {}

    def _holds(self, day: date, visits: list[Visit]) -> bool:
        name = day, frozenset(v.participant for v in visits)
        if name not in self.known:
            problem = DayProblem(self.study, self.plans, day, tuple(visits), must=frozenset(visits))
            result = pack_day(problem, seconds=20, stages=("placed",), workers=1)
            assert result.proven or not result.not_placed
            self.known[name] = not result.not_placed
        return self.known[name]

    def best(self) -> tuple[int, int]:
        """The most visits that can be placed, and the least last day among plans that place as many."""
        days = [None, *sorted(self.study.open)]
        found = []
        pairs = [(a, b) for a, b in product(days, days) if b is None or (a is not None and a < b)]
        for choice in product(pairs, repeat=len(self.study.participants)):
            by_day: dict[date, list[Visit]] = {}
            for who, taken in zip(self.study.participants, choice, strict=True):
                for visit, day in zip(self.study.asked[who], taken, strict=True):
                    if day is not None:
                        by_day.setdefault(day, []).append(visit)
            placed = sum(map(len, by_day.values()))
            last = max(((day - self.study.first_day).days for day in by_day), default=0)
            found.append((-placed, last, by_day))
        for placed, last, by_day in sorted(found, key=lambda one: one[:2]):
            if all(self._holds(day, visits) for day, visits in by_day.items()):
                return -placed, last
        raise AssertionError("a plan without visits always holds")


@pytest.mark.parametrize("seed", range(6))
def test_no_bound_is_beaten_by_the_best_of_all_plans(tmp_path: Path, seed: int):
    study = _study(tmp_path / "study", seed)
    plans = visit_plans(study)
    most, least_last_day = _Truth(study).best()
    bounds = Bounds(study, plans)
    lower_rooms(bounds, Budget(float("inf")))
    assert bounds.most_placed() >= most
    if most == 6:
        assert bounds.least_last_day() <= least_last_day
    made = pack(study, plans, seconds=4, now=NOW)
    assert verify(made, study, plans).broken == ()
    stages = {stage.name: stage for stage in made.stages}
    assert stages["placed"].bound >= most
    if made.status is Outcome.IMPOSSIBLE:
        assert most < 6
    if most == 6:
        assert stages["last_day"].bound <= least_last_day
    if made.placed == most == 6 and stages["last_day"].status is Outcome.OPTIMAL:
        assert stages["last_day"].value == least_last_day


def test_waiting_that_cannot_be_avoided_is_in_the_bound(tmp_path: Path):
    """The second block is due 2 min after the first, which takes 3 min 20 s: it comes late by itself."""
    study = _study(tmp_path / "study", 1)
    plans = visit_plans(study)
    asked = [visit for visits in study.asked.values() for visit in visits]
    assert least_waiting_s(asked, plans, 6) == 0
    made = pack(study, plans, seconds=4, now=NOW)
    waiting = next(stage for stage in made.stages if stage.name == "waiting_s")
    assert waiting.value >= waiting.bound == 0


def test_one_worker_gives_the_same_plan_however_fast_the_clock_runs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    study = _study(tmp_path / "study", 2)
    plans, clock = visit_plans(study), time.monotonic
    one = pack(study, plans, seconds=15, now=NOW, workers=1)
    begin = clock()
    monkeypatch.setattr(time, "monotonic", lambda: begin + 0.3 * (clock() - begin))
    two = pack(study, plans, seconds=15, now=NOW, workers=1)
    assert plan_json(one) == plan_json(two)
    assert one.placed > 0


def test_fewer_visits_a_day_end_later(tmp_path: Path):
    """Three times two visits on days in a row: two a day take three days, three a day two, one a day six."""
    study = replace(_study(tmp_path / "study", 0), available={})
    bounds = Bounds(study, visit_plans(study))
    assert [bounds.least_last_day(most) for most in (3, 2)] == [1, 2]
    assert not bounds.fits_by(DAYS - 1, 1)
    assert bounds.fits_by(DAYS - 1, 2)
