"""What mending must leave alone: all where nothing is wrong, fixed visits, closed days, others' visits."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.packing.mend.troubles import Troubles
from planner.packing.repack import repack
from planner.schedule.model import PlacedVisit, Schedule
from planner.schedule.plan_file import plan_json, read_plan
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

DATA = Path(__file__).parents[2] / "data"


def opened(folder: Path, plan: str) -> tuple[Study, Schedule]:
    study = read_study(folder)
    return study, read_plan(DATA / plan, study)


def mended(study: Study, schedule: Schedule, now: datetime, **troubles: object) -> Schedule:
    told = Troubles(**troubles)  # type: ignore[arg-type]
    plans = visit_plans(study)
    found = repack(study, plans, schedule, now=now, troubles=told)
    assert [b.message for b in verify(found, study, plans).broken] == []
    return found


def visit(schedule: Schedule, participant: str, file_id: str) -> PlacedVisit:
    return next(v for v in schedule.visits if (v.participant, v.file_id) == (participant, file_id))


@settings(max_examples=25, deadline=None)
@given(minute=st.integers(0, 24 * 60 - 1), out=st.integers(1, 600), which=st.integers(0, 99))
def test_nothing_wrong_or_nobody_hit_changes_not_a_byte(minute: int, out: int, which: int):
    """At any moment of the day: no trouble at all, and a rig that is out once nobody needs it any more."""
    study, schedule = opened(DATA / "treadmill_day", "treadmill_day-plan.json")
    now = schedule.visits[0].start.replace(hour=0, minute=0, second=0) + timedelta(minutes=minute)
    rig = study.rigs[which % len(study.rigs)].id
    last = max(a.rig_free for v in schedule.visits for a in v.activities if rig in a.rigs)
    spans = ((rig, last, last + timedelta(minutes=out)),)
    before = plan_json(schedule)
    for told in (Troubles(), Troubles(out_of_use=spans)):
        after = plan_json(repack(study, visit_plans(study), schedule, now=now, troubles=told))
        assert after["visits"] == before["visits"]
        assert after["rig_tasks"] == before["rig_tasks"]
        assert after["changes"] == []
        assert after["stages"] == before["stages"]


def test_a_fixed_visit_is_left_at_its_start(small: Path):
    """ROW-02's first rowing is fixed to the moment at which the plan has it; the meter is out just then."""
    _, schedule = opened(small, "small-plan.json")
    fixed = visit(schedule, "ROW-02", "rowing-1")
    text = (small / "study.yaml").read_text("utf-8")
    (small / "study.yaml").write_text(text + "fixed: fixed.csv\n", encoding="utf-8")
    (small / "fixed.csv").write_text(
        f"participant,visit,date,start,rig,person\nROW-02,rowing-1,{fixed.date},{fixed.start:%H:%M},,\n",
        encoding="utf-8",
    )
    study, schedule = opened(small, "small-plan.json")
    last = max(fixed.activities, key=lambda a: a.start)
    person = next(iter(last.staff.values()), None) or next(
        p for a in reversed(fixed.activities) for p in a.staff.values()
    )
    block = next(a for a in reversed(fixed.activities) if person in a.staff.values())
    after = mended(
        study, schedule, fixed.start - timedelta(minutes=30), absent=((person, block.start, block.end),)
    )
    places = [v for v in after.visits if (v.participant, v.file_id) == ("ROW-02", "rowing-1")]
    left = [n for n in after.not_placed if (n.participant, n.visit) == ("ROW-02", "rowing-1")]
    assert len(places) + len(left) == 1
    assert all(v.start == fixed.start for v in places)


def test_no_visit_goes_to_a_closed_day_and_the_others_stay(small: Path):
    """Wednesday is closed: ROW-01's first rowing, cancelled, goes to an open day that keeps its gaps."""
    study, schedule = opened(small, "small-plan.json")
    first = visit(schedule, "ROW-01", "rowing-1")
    after = mended(study, schedule, first.start - timedelta(hours=1), cancelled=("ROW-01",))
    assert date(2027, 3, 3) not in after.dates
    assert visit(after, "ROW-01", "rowing-1").date > first.date
    own = [v for v in schedule.visits if v.participant != "ROW-01"]
    assert [v for v in after.visits if v.participant != "ROW-01"] == own


@pytest.mark.parametrize("late_s", [-3600, 60])
def test_a_no_show_is_the_same_as_a_cancelled_visit(small: Path, late_s: int):
    """Told an hour before, or when nobody has come a minute after the start."""
    study, schedule = opened(small, "small-plan.json")
    first = visit(schedule, "ROW-01", "rowing-1")
    after = mended(study, schedule, first.start + timedelta(seconds=late_s), cancelled=("ROW-01",))
    assert visit(after, "ROW-01", "rowing-1").date > first.date
    assert {c.participant for c in after.changes} <= {"ROW-01", None}


def test_changes_are_there_in_words_and_as_values(small: Path):
    study, schedule = opened(small, "small-plan.json")
    planned = visit(schedule, "ROW-02", "rowing-1")
    after = mended(study, schedule, planned.start - timedelta(minutes=30), late={"ROW-02": 10})
    told = plan_json(after)["changes"]
    assert told
    for one in told:
        assert one["participant"] == "ROW-02"
        assert one["message"].startswith("ROW-02, rowing-1")
        assert one["kind"] in ("moved", "other person", "other rig")
        assert one["before"] != one["after"]
