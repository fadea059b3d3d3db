"""Who opens: shared out evenly among people who could stand in for each other, and no rule is touched."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from planner.packing.days.fairness import share_early
from planner.packing.pack import pack, running_from
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study, Wish
from planner.study.read import read_study

NOW = datetime(2027, 1, 4, 8, tzinfo=UTC)


@pytest.fixture
def twins(small: Path) -> Study:
    """The small study, over more days, with two people for each kind of work."""
    text = (small / "study.yaml").read_text("utf-8").replace("closed: [2027-03-03]", "closed: []")
    text = text.replace("at_most_visits_a_day: 3", "at_most_visits_a_day: 1")
    text = "".join(line for line in text.splitlines(True) if not line.startswith("before_first_use"))
    (small / "study.yaml").write_text(text, "utf-8")
    roles = {"K1": "operator;lead", "K4": "lead;operator", "K2": "operator;cheek support"}
    staff = "".join(f"{name},{its}\n" for name, its in {**roles, "K3": "lead;cheek support"}.items())
    (small / "staff.csv").write_text(f"person,roles\n{staff}", "utf-8")
    hours = "mon-fri,08:00,17:00,"
    lines = "\n".join(f"K{n},{hours}" for n in (1, 2, 3, 4))
    (small / "shifts.csv").write_text(f"person,days,from,to,breaks\n{lines}\n", "utf-8")
    (small / "absences.csv").write_text("person,from,to\n", "utf-8")
    return read_study(small)


def _openers(visits, people: set[str]) -> Counter[str]:
    """Who of these is the first at work, by day counted."""
    first: dict[object, tuple[float, str]] = {}
    for visit in visits:
        for activity in visit.activities:
            for person in people.intersection(activity.staff.values()):
                begin = (activity.start.timestamp(), person)
                first[visit.date] = min(first.get(visit.date, begin), begin)
    return Counter(person for _, person in first.values())


def _always_first(study: Study):
    """A plan in which K1 does all that K1 or K4 do."""
    made = pack(study, visit_plans(study), seconds=4, now=NOW)
    running = running_from(study, visit_plans(study), made)
    names = {"K4": "K1"}
    for name, visit in running.visits.items():
        acts = tuple(
            replace(a, staff={r: names.get(p, p) for r, p in a.staff.items()}) for a in visit.activities
        )
        running.visits[name] = replace(visit, activities=acts)
    return running


def test_early_beginnings_differ_by_one_at_most(twins: Study):
    running = _always_first(twins)
    assert len(_openers(running.visits.values(), {"K1", "K4"})) == 1
    share_early(running)
    counts = _openers(running.visits.values(), {"K1", "K4"})
    assert max(counts.values()) - min(counts["K1"], counts["K4"]) <= 1


def test_a_packed_plan_is_shared_out_and_keeps_every_rule(twins: Study):
    made = pack(twins, visit_plans(twins), seconds=4, now=NOW)
    assert verify(made, twins, visit_plans(twins)).broken == ()
    counts = _openers(made.visits, {"K1", "K4"})
    assert max(counts.values()) - min(counts["K1"], counts["K4"]) <= 1


def test_whoever_a_wish_names_keeps_their_place(twins: Study):
    running = _always_first(twins)
    running.study = replace(twins, wishes=(Wish("ROW-01", None, person="K1"),))
    before = dict(running.visits)
    share_early(running)
    assert running.visits == before
