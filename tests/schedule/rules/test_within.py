"""The judge reads windows and order from protocols by itself; the planned layouts of timing must pass it.

Two programs, written apart from each other, agree on every shipped protocol and on small ones that
use `before`, `from: start`, series and `if_reached`.
"""

import shutil
from datetime import UTC, date, datetime, time
from pathlib import Path

import pytest

from planner.clock import at_clock, later, seconds_between
from planner.schedule.model import Activity, Outcome, PlacedVisit, PlacedWatch, Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.read import read_study

ROOT = Path(__file__).parents[3]
SHIPPED = sorted(path.name for path in (ROOT / "protocols").glob("*.yaml"))
DAY = date(2027, 3, 1)
HEAD = """format: 1
name: own
title: Own
version: "1"
manoeuvres:
  a: {title: A, rig: x, staff: [p], prepare: 30 s, effort: 10 s, rest: 20 s, efforts: 2, clear: 1 min}
  b:
    {title: B, rig: [x, y], staff: [p, q], prepare: 20 s, effort: 10 s, efforts: 1,
     clear: {takes: 1 min, staff: [r]}}
visit:
"""
OWN = {
    "before": """
  - {id: one, title: One, measure: [a, b], due: {before: go, at: [20 min, 10 min], early: 2 min, late: 3 min}}
  - {id: go, title: Go, exercise: true, takes: 10 min, rig: x, staff: [p], watch: {staff: [p], for: 1 min}}
""",
    "from start": """
  - {id: go, title: Go, exercise: true, takes: 10 min, rig: x, staff: [p], watch: {staff: [p], for: 1 min}}
  - id: one
    title: One
    measure: [a]
    due: {after: go, from: start, at: [12 min, 20 min], early: 1 min, late: 1 min}
""",
    "series": """
  - {id: go, title: Go, exercise: true, takes: 10 min, rig: x, staff: [p], watch: {staff: [p], for: 1 min}}
  - {id: one, title: One, measure: [a], due: {after: go, at: [2 min, 20 min], late: 1 min}}
  - {id: two, title: Two, measure: [b], due: {after: go, at: [10 min, 30 min], late: 1 min}}
  - {id: bye, title: Bye, takes: 3 min, staff: [r], starts_within: 2 min}
""",
    "if reached": """
  - id: go
    title: Go
    exercise: true
    takes: {about: 18 min, shortest: 8 min, longest: 30 min}
    rig: y
    staff: [p, q]
    watch: {staff: [p], for: 1 min}
    during: [{measure: [a], at: [5 min, 15 min, 25 min], late: 1 min, if_reached: true}]
""",
}


def study_of(folder, name):
    """A laboratory with plenty of everything for that one protocol."""
    from planner.protocol.read import read_protocol

    protocol = read_protocol(folder / name)
    manoeuvres = protocol.manoeuvres.values()
    classes = {rig for one in (*manoeuvres, *protocol.visit) for rig in one.rigs}
    roles = {role for one in (*manoeuvres, *protocol.visit) for role in one.staff}
    roles |= {role for one in (*manoeuvres, *protocol.visit) if one.clear for role in one.clear.staff}
    roles |= {role for step in protocol.visit if step.watch for role in step.watch.staff} or {"nobody"}
    rigs = [f"  {rig}: [{', '.join(f'R{n}-{i}' for i in range(9))}]" for n, rig in enumerate(sorted(classes))]
    people = [f"P{i}" for i in range(12)]
    (folder / "study.yaml").write_text(
        f"format: 1\nname: alone\ntime_zone: Europe/Oslo\nvisits: [{{id: only, protocol: {name}}}]\n"
        "days: {from: 2027-03-01, to: 2027-03-01, open: {mon: '00:00-23:59'}}\nrigs:\n"
        + "\n".join(rigs or ["  none: [N1]"])
        + "\nstaff: staff.csv\nshifts: shifts.csv\nparticipants: participants.csv\n",
        "utf-8",
    )
    (folder / "staff.csv").write_text(
        "person,roles\n" + "".join(f"{p},{';'.join(sorted(roles))}\n" for p in people)
    )
    (folder / "shifts.csv").write_text(
        "person,days,from,to\n" + "".join(f"{p},mon,00:00,23:59\n" for p in people)
    )
    (folder / "participants.csv").write_text("participant\nP-1\n")
    return read_study(folder)


class Pool:
    """Gives whoever is free longest; who is taken stays taken until then."""

    def __init__(self, names):
        self.free = dict.fromkeys(names, datetime(2000, 1, 1, tzinfo=UTC))

    def take(self, start, end, but=()):
        name = min((n for n in self.free if n not in but), key=lambda n: self.free[n])
        assert self.free[name] <= start
        self.free[name] = end
        return name


def laid_out(study, plan):
    """The planned layout on the clock, with a rig and a person for everything."""
    start = at_clock(DAY, time(1), study.zone)
    people = Pool([person.id for person in study.people])
    pools = {c: Pool([r.id for r in study.rigs if c in r.classes]) for rig in study.rigs for c in rig.classes}
    kept, activities = {}, []
    for planned, offset in zip(plan.activities, plan.starts_s, strict=True):
        begin = later(start, offset)
        end = later(begin, planned.length_s)
        free = later(end, planned.clear.takes_s if planned.clear and planned.rigs else 0)
        watch_end = later(end, planned.watch.for_s) if planned.watch else end
        rigs = [kept.pop((planned.inside, c), None) or pools[c].take(begin, free) for c in planned.rigs]
        for c, rig in zip(planned.rigs, rigs, strict=True):
            pools[c].free[rig] = max(pools[c].free[rig], free)
        kept |= {
            (planned.inside, c): rig for c, rig in zip(planned.rigs, rigs, strict=True) if c in planned.keeps
        }
        staff = {role: people.take(begin, max(free, watch_end)) for role in planned.staff}
        others = [role for role in (planned.clear.staff if planned.clear else ()) if role not in staff]
        clearing = {role: people.take(end, free) for role in others}
        watchers = {
            role: people.take(end, watch_end) for role in (planned.watch.staff if planned.watch else ())
        }
        first = later(begin, planned.prepare_s) if planned.manoeuvre else None
        watch = PlacedWatch(watchers, watch_end) if planned.watch else None
        activities.append(
            Activity(planned.step, planned.at_s, planned.manoeuvre, tuple(rigs), staff, begin, first, end,
                     free, planned.planned_efforts, watch, clearing)
        )  # fmt: skip
    visit = PlacedVisit("P-1", "only", None, None, tuple(sorted(activities, key=lambda a: a.start)))
    return Schedule("alone", 1, None, study.fingerprint, start, Outcome.FEASIBLE, 1, (), (visit,))


@pytest.fixture
def laboratory(tmp_path):
    def build(name, text=None):
        if text is None:
            shutil.copy(ROOT / "protocols" / name, tmp_path / name)
        else:
            (tmp_path / name).write_text(text, "utf-8")
        study = study_of(tmp_path, name)
        plans = visit_plans(study)
        return study, plans, laid_out(study, plans[name])

    return build


@pytest.mark.parametrize("name", SHIPPED)
def test_the_layout_of_a_shipped_protocol_passes(laboratory, name):
    study, plans, plan = laboratory(name)
    assert verify(plan, study, plans).broken == ()


@pytest.mark.parametrize("name", OWN)
def test_the_layout_of_an_own_protocol_passes(laboratory, name):
    study, plans, plan = laboratory("own.yaml", HEAD + OWN[name].strip("\n"))
    assert verify(plan, study, plans).broken == ()


def moved(plan, step, at_s, seconds, tools):
    (visit,) = plan.visits
    found = [tools.shifted(a, seconds) if (a.step, a.at_s) == (step, at_s) else a for a in visit.activities]
    return tools.replace(plan, visits=(tools.replace(visit, activities=tuple(found)),))


@pytest.mark.parametrize(
    ("name", "step", "at_s", "ok", "off"),
    [
        ("before", "one", 1200, 180, 181),  # the gap may shrink to 20 - 3 min
        ("before", "one", 1200, -120, -121),  # and grow to 20 + 2 min
        ("from start", "one", 720, 60, 61),
        ("from start", "one", 1200, -60, -61),
        ("series", "two", 600, 60, 61),
        ("series", "one", 1200, 60, 61),
        ("series", "one", 1200, 0, -1),
        ("if reached", "go", 300, 60, 61),
    ],
)
def test_a_window_ends_where_the_protocol_says(laboratory, tools, name, step, at_s, ok, off):
    study, plans, plan = laboratory("own.yaml", HEAD + OWN[name].strip("\n"))
    only = {"window"}
    assert verify(moved(plan, step, at_s, ok, tools), study, plans).broken == ()
    verdict = verify(moved(plan, step, at_s, off, tools), study, plans)
    assert {one.rule for one in verdict.broken} == only
    assert all(one.participant == "P-1" and one.visit == "only" for one in verdict.broken)


def test_time_points_that_the_bout_does_not_reach_are_not_asked_for(laboratory):
    _, _, plan = laboratory("own.yaml", HEAD + OWN["if reached"].strip("\n"))
    assert [a.at_s for a in plan.visits[0].activities if a.manoeuvre] == [300, 900]


def test_a_series_is_in_order_of_time(laboratory, tools):
    """One (2 min), two (10 min), one (20 min), two (30 min): the third before the second breaks the order."""
    study, plans, plan = laboratory("own.yaml", HEAD + OWN["series"].strip("\n"))
    (visit,) = plan.visits
    at = {(a.step, a.at_s): a for a in visit.activities}
    back = seconds_between(at["two", 600].start, at["one", 1200].start) + 1
    verdict = verify(moved(plan, "one", 1200, -back, tools), study, plans)
    assert "order" in {one.rule for one in verdict.broken}
