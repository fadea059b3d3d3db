"""What is said of a visit without a place is true of that visit, not only of its participant's series."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.packing import reasons
from planner.packing.reasons import Finding
from planner.study.read import read_study

Asked = Callable[[Path], Finding]

PROTOCOL = """format: 1
name: visit
title: A visit of an hour
version: "1"
cautions: [Stop when the participant asks to.]
visit:
  - {id: sit, title: Sitting, takes: 1 h, rig: chair, staff: [operator]}
"""
STUDY = """format: 1
name: in-a-row
time_zone: Europe/Oslo
visits: [{id: one, protocol: visit.yaml}, {id: two, protocol: visit.yaml}, {id: three, protocol: visit.yaml}]
between_visits: {at_least: 1 d}
days: {from: 2027-03-01, to: 2027-03-04, open: {mon-fri: "08:00-12:00"}}
rigs: {chair: [C1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
availability: availability.csv
"""


@pytest.fixture
def row(tmp_path: Path) -> Callable[..., Path]:
    """A function that writes the study of three visits in a row; `count` participants, `lines` of when."""

    def make(*lines: str, count: int = 1, to: str = "2027-03-04") -> Path:
        codes = [f"R{number:02}" for number in range(1, count + 1)]
        files = {
            "visit.yaml": PROTOCOL,
            "study.yaml": STUDY.replace("2027-03-04", to),
            "staff.csv": "person,roles\nK1,operator\n",
            "shifts.csv": "person,days,from,to,breaks\nK1,mon-fri,08:00,12:00,\n",
            "participants.csv": "\n".join(["participant", *codes, ""]),
            "availability.csv": "\n".join(["participant,days,from,to,visit", *lines, ""]),
        }
        for name, text in files.items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        return tmp_path

    return make


def words(found: Finding, folder: Path) -> dict[str, str]:
    """What is said of each visit, by participant and visit."""
    visits = [visit for its in read_study(folder).asked.values() for visit in its]
    return {f"{v.participant} {v.file_id}": found.words_for(v) for v in visits}


def test_a_series_that_is_too_long_is_said_of_the_series(row: Callable[..., Path], asked: Asked):
    """Three visits, each on another day, and two days: any two of them have a place."""
    folder = row(to="2027-03-02")
    said = words(asked(folder), folder)
    assert len(said) == 3
    for one in said.values():
        assert one.startswith("not all visits of R01 can be placed, whoever else comes: ")
        assert "at least 1 day between two and the visit before it" in one


def test_nothing_more_is_said_of_those_whose_demands_are_not_looked_at(
    row: Callable[..., Path], asked: Asked, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(reasons, "MOST_EXPLAINED", 1)
    monkeypatch.setattr(reasons, "MORE_S", 0.0)
    folder = row(*(f"R{n:02},mon,08:{n}0,12:00," for n in range(1, 4)), count=3)
    said = words(asked(folder), folder)
    assert {said[f"R03 {name}"] for name in ("one", "two", "three")} == {
        "not all visits of R03 can be placed, whoever else comes"
    }


def test_of_one_visit_that_has_no_day_only_that_one_is_called_so(row: Callable[..., Path], asked: Asked):
    """The third may come for half an hour only; the first two are in nobody's way."""
    folder = row(
        "R01,mon-fri,08:00,12:00,one", "R01,mon-fri,08:00,12:00,two", "R01,mon-fri,08:00,08:30,three"
    )
    said = words(asked(folder), folder)
    assert said["R01 three"].startswith("cannot be met together: R01 can come for three")
    for name in ("one", "two"):
        assert said[f"R01 {name}"] == (
            "no free place was found in the time; "
            "three of R01 is proven to find no place even if nobody else came"
        )


def test_several_visits_that_have_no_day_are_each_called_so(row: Callable[..., Path], asked: Asked):
    folder = row("R01,mon-fri,08:00,08:30,")
    said = words(asked(folder), folder)
    assert said["R01 one"].startswith("cannot be met together: R01 can come")
    for name in ("two", "three"):
        assert said[f"R01 {name}"] == "proven to find no place even if nobody else came"


def test_who_collides_on_one_day_is_told_so_of_the_visits_of_that_day(row: Callable[..., Path], asked: Asked):
    """Both can come to their first visit in the same hour only; the others have nothing to do with it."""
    lines = [
        f"R0{n},{days},08:00,{to},{visit}"
        for n in (1, 2)
        for days, to, visit in (
            ("2027-03-01", "09:00", "one"),
            ("tue-fri", "12:00", "two"),
            ("tue-fri", "12:00", "three"),
        )
    ]
    folder = row(*lines, count=2)
    said = words(asked(folder), folder)
    assert all(said[f"R0{n} one"].startswith("cannot be met together: ") for n in (1, 2))
    assert all(said[f"R0{n} three"] == "no free place was found in the time" for n in (1, 2))


def test_one_end_of_a_visit_is_tried_by_itself_first(row: Callable[..., Path], told: Callable[[Path], str]):
    """Fifty minutes for visits of an hour: ten more are enough, at either end."""
    words = told(row("R01,mon-fri,09:00,09:50,"))
    assert "if R01 could stay 10 min longer: all 3 placed" in words
    assert "if R01 could come 10 min earlier: all 3 placed" in words
    assert "earlier and stay" not in words


def test_both_ends_are_told_where_neither_is_enough(row: Callable[..., Path], told: Callable[[Path], str]):
    """Visits of 3 h 55 min where the doors are open for four hours: each end alone gives ten minutes."""
    folder = row("R01,mon-fri,08:10,11:50,")
    text = (folder / "visit.yaml").read_text("utf-8").replace("takes: 1 h", "takes: 3 h 55 min")
    (folder / "visit.yaml").write_text(text, encoding="utf-8")
    words = told(folder)
    assert "if R01 could come 10 min earlier and stay 10 min longer: all 3 placed" in words
