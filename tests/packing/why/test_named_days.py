"""Days as demands: what is said of more of them is true when it is written into the study's files."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from planner.packing.why.case import Case
from planner.packing.why.longer import longer_steps
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

Change = Callable[[Path, str, str], None]
Told = Callable[[Path], str]

COMES = "participant,days,from,to,visit\n"


def test_more_days_are_no_help_where_each_is_as_short(small: Path, told: Told):
    """ROW-01 stays 5 min on every Monday to come as well."""
    (small / "availability.csv").write_text(COMES + "ROW-01,mon-fri,08:00,08:05,\n", encoding="utf-8")
    words = told(small)
    assert "availability.csv:2 ROW-01 can come" in words
    assert "days went on" not in words
    assert "open days" not in words


def test_a_later_last_day_that_is_named_really_mends_it(small: Path, change: Change, told: Told):
    change(small / "study.yaml", "{at_least: 1 d, at_most: 3 d}", "{at_least: 7 d, at_most: 9 d}")
    found = re.search(r"if the days went on to (\S+): all 6 placed", told(small))
    assert found
    change(small / "study.yaml", "to: 2027-03-05", f"to: {found[1]}")
    assert "cannot all be met" not in told(small)


def test_the_next_open_day_is_tried_before_a_week(small: Path):
    """The study ends on a Friday, and the day after it that is open is a Monday."""
    study = read_study(small)
    words = [words for words, _ in longer_steps(Case(study, visit_plans(study)))]
    assert words[:3] == [f"if the days went on to 2027-03-{day:02}" for day in (8, 12, 19)]


def test_dated_lines_do_not_go_on(small: Path, told: Told):
    """ROW-01 comes on dates of the first week only, and there are no others to come."""
    (small / "availability.csv").write_text(
        COMES + "ROW-01,2027-03-01..2027-03-02,08:00,17:00,\n", encoding="utf-8"
    )
    assert "days went on" not in told(small)


def test_of_files_that_have_changed_nothing_is_said(small: Path):
    study = read_study(small)
    case = Case(study, visit_plans(study))
    (small / "staff.csv").write_text("person,roles\n", encoding="utf-8")
    assert longer_steps(case) == ()


def test_the_weekdays_that_are_open(small: Path, change: Change, told: Told):
    """Two of the visits two or three days apart, and Mondays and Tuesdays only."""
    change(small / "study.yaml", "{at_least: 1 d, at_most: 3 d}", "{at_least: 2 d, at_most: 3 d}")
    change(small / "study.yaml", "mon-fri", "mon tue")
    change(small / "study.yaml", "to: 2027-03-05", "to: 2027-03-20")
    words = told(small)
    assert re.search(r"study.yaml:\d+ the laboratory is open only on Mon, Tue", words), words
    assert "days went on" not in words


def test_the_closed_day_that_matters(small: Path, change: Change, told: Told):
    """ROW-01 comes on three Mondays, of which one is closed; so is a Wednesday."""
    change(small / "study.yaml", "{at_least: 1 d, at_most: 3 d}", "{at_least: 7 d, at_most: 7 d}")
    change(small / "study.yaml", "to: 2027-03-05", "to: 2027-03-19")
    change(small / "study.yaml", "closed: [2027-03-03]", "closed: [2027-03-08, 2027-03-10]")
    (small / "availability.csv").write_text(COMES + "ROW-01,mon,08:00,17:00,\n", encoding="utf-8")
    words = told(small)
    assert re.search(r"study.yaml:\d+ the laboratory is closed on Mon 2027-03-08\n", words), words
    assert "2027-03-10" not in words


def test_a_closed_day_is_told_as_one_where_its_weekday_comes_but_once(small: Path, told: Told):
    """Three visits on Tuesday to Thursday, each a day after the other; Wednesday is closed."""
    (small / "availability.csv").write_text(COMES + "ROW-01,tue-thu,08:00,17:00,\n", encoding="utf-8")
    words = told(small)
    assert re.search(r"study.yaml:22 the laboratory is closed on Wed 2027-03-03\n", words), words
    assert "open only on" not in words
