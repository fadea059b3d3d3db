"""Who is fixed to a rig or person has only the days on which these are there."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.pack import pack
from planner.packing.progress import Progress
from planner.schedule.model import Outcome
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

PROTOCOL = """format: 1
name: visit
title: A visit of half an hour
version: "1"
cautions: [Stop when the participant asks to.]
visit:
  - {id: sit, title: Sitting, takes: 30 min, rig: chair, staff: [operator]}
  - {id: talk, title: Talking, takes: 10 min, staff: [lead]}
"""
STUDY = """format: 1
name: fixed-week
time_zone: Europe/Oslo
visits: [{id: only, protocol: visit.yaml}]
at_most_visits_a_day: 1
days: {from: 2027-03-01, to: 2027-03-05, open: {mon-fri: "08:00-12:00"}}
rigs: {chair: [C1, C2]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
fixed: fixed.csv
outages: outages.csv
"""
MON, TUE, ALL = 1, 2, 31


@pytest.fixture
def week(tmp_path: Path) -> Callable[..., Path]:
    """A function that writes a week in which K1 works two days, and what three participants are fixed to."""

    def make(rig: str = "", person: str = "", shift: str = "08:00,12:00", out: str = "") -> Path:
        codes = ["R01", "R02", "R03"]
        files = {
            "visit.yaml": PROTOCOL,
            "study.yaml": STUDY,
            "staff.csv": "person,roles\nK1,operator\nK2,lead\nK3,operator\n",
            "shifts.csv": f"person,days,from,to\nK1,mon tue,{shift}\n"
            "K2,mon-fri,08:00,12:00\nK3,mon-fri,08:00,12:00",
            "participants.csv": "\n".join(["participant", *codes]),
            "outages.csv": f"rig,from,to\n{out}",
            "fixed.csv": "\n".join(
                ["participant,visit,date,start,rig,person", *(f"{c},only,,,{rig},{person}" for c in codes)]
            ),
        }
        for name, text in files.items():
            (tmp_path / name).write_text(text + "\n", encoding="utf-8")
        return tmp_path

    return make


@pytest.mark.parametrize(
    ("fixed", "days"),
    [
        ({"person": "K1"}, MON | TUE),
        ({"person": "K1", "shift": "08:00,08:29"}, 0),  # for half an hour of sitting
        ({"person": "K2"}, ALL),
        ({"rig": "C2", "out": "C2,2027-03-02T00:00,2027-03-06T00:00"}, MON),
        ({"rig": "C1", "out": "C2,2027-03-02T00:00,2027-03-06T00:00"}, ALL),
    ],
)
def test_the_days_of_who_is_fixed(week: Callable[..., Path], fixed: dict[str, str], days: int):
    study = read_study(week(**fixed))
    bounds = Bounds(study, visit_plans(study))
    assert bounds.reach(study.asked["R01"], 4) == ((days,) if days else None)
    assert bounds.most_placed() == min(3, days.bit_count())


def test_three_who_are_fixed_to_who_works_two_days_are_too_many(week: Callable[..., Path]):
    """One a day: it was left undecided, and while it was worked at the bound lay on the wrong side."""
    study, told = read_study(week(person="K1")), list[Progress]()
    now = datetime(2027, 2, 1, 8, tzinfo=study.zone)
    made = pack(study, visit_plans(study), seconds=4, now=now, progress=told.append)
    assert (made.status, made.placed) == (Outcome.IMPOSSIBLE, 2)
    words = " ".join(reason.message for reason in made.reasons)
    assert all(part in words for part in ("at most 1 visit a day", "fixed to K1", "the shifts of K1"))
    ends = [one for one in told if one.stage == "last_day" and one.bound is not None]
    assert all(one.best >= one.bound for one in ends if one.best is not None)
