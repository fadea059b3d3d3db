"""Demands by name: each in words of its own, so that a reader can tell one from the next."""

from __future__ import annotations

from pathlib import Path

from planner.packing.why.case import Case
from planner.packing.why.named import _calibration, _start_ranges, _windows, _wishes
from planner.schedule.plans import visit_plans
from planner.study.read import read_study

DEMO = Path(__file__).parents[3] / "demo_study"


def test_each_window_is_named_by_its_time_point():
    study = read_study(DEMO)
    words = [demand.words for demand in _windows(Case(study, visit_plans(study)))]
    assert len(words) > 3
    assert len(set(words)) == len(words)
    assert any(" at 10 min in " in one for one in words)


def test_a_start_range_is_named_at_its_own_line(small: Path):
    study = read_study(small)
    (start,) = _start_ranges(Case(study, visit_plans(study)))
    lines = (small / "study.yaml").read_text("utf-8").splitlines()
    assert lines[start.place.line - 1].strip() == 'start: "08:00-15:00"'


def test_of_a_participants_fixed_visits_it_is_said_which(small: Path):
    with (small / "study.yaml").open("a", encoding="utf-8") as file:
        file.write("fixed: fixed.csv\n")
    (small / "fixed.csv").write_text(
        "participant,visit,date,start,rig,person\nROW-01,practice,2027-03-01,,,\n"
        "ROW-01,rowing-1,2027-03-02,09:00,,\nROW-02,,,,S1,\n",
        encoding="utf-8",
    )
    study = read_study(small)
    told = [(one.place.line, one.without) for one in _wishes(Case(study, visit_plans(study)))]
    assert told == [
        (2, "if the visit practice of ROW-01 were not fixed to 2027-03-01"),
        (3, "if the visit rowing-1 of ROW-01 were not fixed to 2027-03-02, 09:00"),
        (4, "if the visits of ROW-02 were not fixed to S1"),
    ]


def test_a_shorter_first_check_is_tried_before_none(small: Path):
    study = read_study(small)
    (check,) = _calibration(Case(study, visit_plans(study)))
    words, shorter = check.easier[0]
    assert words == "if the check of each spirometer before its first use took 8 min"
    changed = shorter(Case(study, visit_plans(study))).study.before_first_use["spirometer"]
    assert (changed.takes_s, changed.staff) == (480, ("operator",))
