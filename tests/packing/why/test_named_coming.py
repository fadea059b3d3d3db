"""When a participant can come is named with every line that says it."""

from __future__ import annotations

from pathlib import Path

from planner.packing.why import named_coming
from planner.packing.why.case import Case
from planner.packing.why.told import Demand
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

HEAD = "participant,days,from,to,visit\n"


def demands(small: Path, lines: str) -> dict[str, Demand]:
    (small / "availability.csv").write_text(HEAD + lines, encoding="utf-8")
    study = read_study(small)
    return {one.words: one for one in named_coming.availability(Case(study, visit_plans(study)))}


def test_one_line_is_the_place_and_nothing_more_is_said(small: Path):
    (one,) = demands(small, "ROW-01,mon-fri,08:00,09:00,\n").values()
    assert (one.place.file, one.place.line) == ("availability.csv", 2)
    assert "line" not in one.words


def test_several_lines_are_all_named(small: Path):
    lines = "ROW-01,mon,08:00,09:00,\nROW-02,mon,08:00,17:00,\nROW-01,tue,10:00,11:00,\n"
    found = demands(small, lines)
    words = "ROW-01 can come Mon 08:00-09:00, Tue 10:00-11:00 (lines 2, 4)"
    assert found[words].place.line == 2


def test_each_kind_of_visit_has_its_own_lines(small: Path):
    lines = "ROW-01,mon,08:00,09:00,practice\nROW-01,tue,10:00,11:00,rowing\nROW-01,thu,10:00,11:00,rowing\n"
    (whole,) = demands(small, lines).values()
    assert whole.words.endswith(" (lines 2, 3, 4)")
    practice, rowing = whole.lines
    assert (practice.place.line, rowing.place.line) == (2, 3)
    assert "lines" not in practice.words
    assert rowing.words.endswith(" (lines 3, 4)")


def test_the_file_is_not_read_again(small: Path):
    (small / "availability.csv").write_text(HEAD + "ROW-01,mon,08:00,09:00,practice\n", encoding="utf-8")
    study = read_study(small)
    (small / "availability.csv").unlink()
    (one,) = named_coming.availability(Case(study, visit_plans(study)))
    assert one.place.line == 2
