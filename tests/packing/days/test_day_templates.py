"""Templates of the days of a study: what each day offers to choose from."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from planner.clock import DaySpan
from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.days import lanes as cutting
from planner.packing.days.day_templates import DayTemplates
from planner.packing.days.lanes import lanes
from planner.packing.pack import pack
from planner.schedule.plans import visit_plans
from planner.study.model import Study
from planner.study.read import read_study


def _templates(study: Study, most: int) -> DayTemplates:
    plans = visit_plans(study)
    bounds, budget = Bounds(study, plans), Budget.of(10, 1, None, None)
    return DayTemplates(study, plans, bounds, lanes(study, plans, most), budget)


def test_a_day_offers_more_hours_than_the_laboratory_takes_visits(small: Path):
    """With one visit a day allowed, its hour can still be chosen: the limit is for those who choose."""
    file = small / "study.yaml"
    text = file.read_text("utf-8").replace("at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    file.write_text(text, encoding="utf-8")
    study = read_study(small)
    templates = _templates(study, 1)
    templates.make_first(2.0)
    assert max(len(places) for places in templates.by_day().values()) > 1


def test_fuller_days_are_hoped_for_only_where_they_could_end_the_study_earlier(small: Path):
    study = read_study(small)
    least = Bounds(study, visit_plans(study)).least_last_day()
    templates = _templates(study, 3)
    templates.make_first(2.0, 0.5)
    assert not templates.could_end_before(least)
    assert templates.could_end_before((study.last_day - study.first_day).days + 1)


def test_a_day_is_full_enough_where_two_visits_more_would_not_help_either(
    small: Path, monkeypatch: pytest.MonkeyPatch
):
    """One more need not let a study end earlier where two do: weeks are filled or not."""
    templates = _templates(read_study(small), 3)
    monkeypatch.setattr(templates.bounds, "fits_by", lambda *_: True)
    templates._least.update({1: 9, 2: 9, 3: 9, 4: 7})
    assert not templates._is_enough(2)
    templates._least[4] = 9
    assert templates._is_enough(2)


def test_who_can_come_late_only_finds_slots_then_though_the_morning_holds_all(small: Path):
    """The first slots of a day lie as early as can be; they were of no use to who comes in the afternoon."""
    file = small / "study.yaml"
    text = file.read_text("utf-8").replace("at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    file.write_text(text, encoding="utf-8")
    lines = "participant,days,from,to,visit\nROW-01,mon-fri,08:00,13:00,\nROW-02,mon-fri,13:30,17:00,\n"
    (small / "availability.csv").write_text(lines, encoding="utf-8")
    study = read_study(small)
    templates = _templates(study, 1)
    templates.make_first(2.0)
    slots = [place.slot.visits for places in templates.by_day().values() for place in places]
    kinds = {kind for visits in slots for kind in visits}
    late = {
        kind
        for visits in slots
        for kind, visit in visits.items()
        if visit.start.strftime("%H:%M") >= "13:30" and visit.end.strftime("%H:%M") <= "17:00"
    }
    assert late == kinds


def test_fixed_visits_may_take_rigs_and_people_of_several_lanes(small: Path, monkeypatch: pytest.MonkeyPatch):
    """The one technician makes the rigs of both lanes ready, and belongs to one of them only."""
    monkeypatch.setattr(cutting, "MOST_IN_A_LANE", 2)
    file = small / "study.yaml"
    text = file.read_text("utf-8")
    for old, new in {
        "[M1]": "[M1, M2]",
        "[E1]": "[E1, E2]",
        "takes: 10 min, staff: [operator]": "takes: 10 min, staff: [technician]",
        "staff: staff.csv": "fixed: fixed.csv\nstaff: staff.csv",
    }.items():
        assert old in text
        text = text.replace(old, new)
    file.write_text(text, encoding="utf-8")
    people = [f"K{n},operator;lead;cheek support" for n in range(1, 9)]
    hours = [f"K{n},mon-fri,08:00,17:00," for n in range(1, 10)]
    fixed = [f"ROW-0{n},practice,2027-03-02,09:30,S{n}," for n in (1, 2)]
    for name, lines in {
        "staff.csv": ["person,roles", *people, "K9,technician"],
        "shifts.csv": ["person,days,from,to,breaks", *hours],
        "outages.csv": ["rig,from,to"],
        "fixed.csv": ["participant,visit,date,start,rig,person", *fixed],
    }.items():
        (small / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    study = read_study(small)
    plans = visit_plans(study)
    assert len(lanes(study, plans, 3)) == 2
    made = pack(study, plans, seconds=6, now=datetime(2027, 2, 1, tzinfo=study.zone), workers=1)
    starts = {v.participant: v.start.strftime("%d %H:%M") for v in made.visits if v.visit == "practice"}
    assert starts == {"ROW-01": "02 09:30", "ROW-02": "02 09:30"}
    assert {task.rig for task in made.rig_tasks if task.start.day == 2} >= {"S1", "S2"}


def test_a_day_has_slots_for_all_visits_that_one_participant_may_have_on_it(small: Path):
    study = read_study(small)
    visits = study.asked["ROW-01"]
    asked = tuple(replace(v, gap=None, start=None, protocol=visits[0].protocol) for v in visits)
    study = replace(study, asked={"ROW-01": asked}, participants=("ROW-01",), available={}, wishes=())
    templates = _templates(study, 3)
    templates.make_first(2.0)
    assert all(len(places) == 3 for places in templates.by_day().values())


def test_who_cannot_have_all_visits_still_has_slots_for_those_that_can_come(small: Path):
    study = read_study(small)
    asked = {
        who: tuple(replace(v, gap=DaySpan(3, 3) if n else None) for n, v in enumerate(visits))
        for who, visits in study.asked.items()
    }
    templates = _templates(replace(study, asked=asked), 3)
    templates.make_first(2.0)
    assert any(templates.by_day().values())
