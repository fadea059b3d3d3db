"""Opening hours as a demand: all that was changed for the trial is said, and whoever is away is away."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from planner.study.read import read_study

Change = Callable[[Path, str, str], None]
Told = Callable[[Path], str]


def test_who_must_stay_as_long_is_named(small: Path, change: Change, told: Told):
    """Ten minutes hold no visit; all three people go when the doors close."""
    change(small / "study.yaml", "08:00-17:00", "08:00-08:10")
    rows = "".join(f"{name},mon-fri,08:00,08:10,\n" for name in ("K1", "K2", "K3"))
    (small / "shifts.csv").write_text("person,days,from,to,breaks\n" + rows, encoding="utf-8")
    words = told(small)
    assert re.search(r"study.yaml:22 the laboratory is open 08:00-08:10", words), words
    assert re.search(r"if the laboratory closed \d+ min later, and K1, K2, K3 stayed as long", words), words
    assert "open all day" not in words


def test_who_stays_longer_anyway_is_not_named(small: Path, change: Change, told: Told):
    change(small / "study.yaml", "08:00-17:00", "08:00-08:10")
    rows = "".join(f"{name},mon-fri,07:00,17:00,\n" for name in ("K1", "K2", "K3"))
    (small / "shifts.csv").write_text("person,days,from,to,breaks\n" + rows, encoding="utf-8")
    words = told(small)
    assert re.search(r"if the laboratory closed \d+ min later:", words), words


def test_what_is_out_all_day_is_not_mended_by_the_night(small: Path, told: Told):
    """The one ergometer is out for the opening hours of every day."""
    rows = "".join(f"E1,2027-03-{day:02}T08:00,2027-03-{day:02}T17:00\n" for day in range(1, 6))
    (small / "outages.csv").write_text("rig,from,to\n" + rows, encoding="utf-8")
    words = told(small)
    assert "E1 is out of use" in words
    assert "the laboratory is open 08" not in words
    assert "the laboratory opened" not in words


@pytest.mark.parametrize("ends", ["17:00", "16:45"])
def test_who_is_absent_all_day_is_not_back_at_night(small: Path, ends: str, told: Told):
    """Also where the shift, and with it the absence, ends before the doors close."""
    shifts = small / "shifts.csv"
    shifts.write_text(shifts.read_text("utf-8").replace("17:00", ends), encoding="utf-8")
    gone = [one.id for one in read_study(small).people if "lead" in one.roles]
    rows = "".join(
        f"{one},2027-03-{on:02}T08:00,2027-03-{on:02}T{ends}\n" for on in range(1, 6) for one in gone
    )
    (small / "absences.csv").write_text("person,from,to\n" + rows, encoding="utf-8")
    words = told(small)
    assert "is absent" in words
    assert "the laboratory is open 08" not in words
    assert "the laboratory opened" not in words
