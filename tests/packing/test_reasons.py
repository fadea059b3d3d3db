"""Studies that cannot be packed: the culprit is named with its file and line, and what would mend it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from planner.packing.pack import pack
from planner.schedule.model import Outcome, Schedule
from planner.schedule.plans import visit_plans
from planner.study.read import read_study


def change(file: Path, old: str, new: str) -> None:
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def packed(folder: Path, seconds: float = 12) -> Schedule:
    study = read_study(folder)
    return pack(
        study, visit_plans(study), seconds=seconds, now=datetime(2027, 1, 4, 8, tzinfo=UTC), workers=1
    )


def told(schedule: Schedule) -> str:
    return "\n".join(f"{r.file}:{r.line} {r.message}" for r in schedule.reasons)


def test_a_participant_who_comes_too_early(small: Path):
    (small / "availability.csv").write_text(
        "participant,days,from,to,visit\nROW-01,mon-fri,06:00,08:05,\n", encoding="utf-8"
    )
    found = packed(small)
    assert found.status is Outcome.IMPOSSIBLE
    assert "availability.csv:2 ROW-01 can come" in told(found)
    assert "if ROW-01 could come 15 min earlier and stay 15 min longer" in told(found)
    assert {n.participant for n in found.not_placed} == {"ROW-01"}


def test_a_rig_that_is_out_on_all_days(small: Path):
    (small / "outages.csv").write_text(
        "rig,from,to\nE1,2027-03-01T00:00,2027-03-06T00:00\n", encoding="utf-8"
    )
    found = packed(small)
    assert found.status is Outcome.IMPOSSIBLE
    assert "E1 is out of use" in told(found)
    assert "with one more rowing ergometer" in told(found)
    assert "shifts of" not in told(found)


def test_a_start_range_outside_the_opening_hours(small: Path):
    change(small / "study.yaml", 'start: "08:00-15:00"', 'start: "17:30-19:00"')
    found = packed(small)
    assert found.status is Outcome.IMPOSSIBLE
    assert "rowing starts 17:30-19:00" in told(found)
    assert "if rowing might start at any time" in told(found)


def test_too_few_visits_a_day(small: Path):
    change(small / "study.yaml", "at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    found = packed(small)
    assert found.status is Outcome.IMPOSSIBLE
    assert "study.yaml:18 at most 1 visits a day" in told(found)
    assert "with at most 2 visits a day" in told(found)


def test_days_between_visits_longer_than_the_study(small: Path):
    change(small / "study.yaml", "{at_least: 1 d, at_most: 3 d}", "{at_least: 9 d, at_most: 12 d}")
    found = packed(small)
    assert found.status is Outcome.IMPOSSIBLE
    assert "study.yaml:15 at least 9 days between two visits of rowing" in told(found)
    assert found.stages[0].bound == 4


@pytest.mark.parametrize("role", ["lead", "operator"])
def test_people_of_one_role_who_are_never_there(small: Path, role: str):
    study = read_study(small)
    gone = [person.id for person in study.people if role in person.roles]
    rows = "".join(f"{name},2027-03-01T00:00,2027-03-06T00:00\n" for name in gone)
    (small / "absences.csv").write_text("person,from,to\n" + rows, encoding="utf-8")
    found = packed(small)
    assert found.status is Outcome.IMPOSSIBLE
    assert f"can be {role}" in told(found)
    assert all(f"{name} is absent" in told(found) for name in gone)
    assert "this conflict would be gone" in told(found)


def test_what_can_be_packed_has_no_reasons(small: Path):
    found = packed(small, 20)
    assert found.status is not Outcome.IMPOSSIBLE
    assert (found.placed, found.reasons) == (6, ())
