"""Studies of one day, written as the files that a coordinator would write."""

from __future__ import annotations

import textwrap
import time
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from pathlib import Path

import pytest

from planner.packing.bounds.study_bounds import Bounds
from planner.packing.budget import Budget
from planner.packing.problem import DayProblem
from planner.packing.reasons import Finding, find_reasons
from planner.packing.why.case import Case
from planner.schedule.model import Outcome, Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study

RICH_PROTOCOL = """
format: 1
name: rich
title: A visit that asks for a little of everything
version: "1"
manoeuvres:
  fvc:
    title: Forced vital capacity
    rig: spirometer
    staff: operator
    prepare: 60 s
    effort: 20 s
    rest: 30 s
    efforts: 3
    clear: {takes: 2 min, staff: [operator, cleaner]}
  mip:
    title: Maximal inspiratory pressure
    rig: [meter, spirometer]
    staff: operator
    prepare: 30 s
    effort: 10 s
    rest: 20 s
    efforts: 3
  mep:
    title: Maximal expiratory pressure
    rig: meter
    staff: [operator, support]
    prepare: 30 s
    effort: 10 s
    rest: 20 s
    efforts: 3
    clear: 1 min
  pulse:
    title: Pulse
    staff: lead
    effort: 10 s
    efforts: 1
visit:
  - {id: consent, title: Consent, takes: 5 min, staff: lead}
  - {id: before, title: Before, measure: [fvc, mip, mep]}
  - id: row
    title: Rowing
    exercise: true
    takes: 10 min
    rig: ergometer
    staff: lead
    clear: {takes: 3 min, staff: cleaner}
    watch: {staff: lead, for: 6 min}
    starts_within: 30 min
    during: [{measure: [pulse], at: [2 min, 8 min], late: 1 min}, {measure: fvc, at: 5 min, late: 90 s}]
  - id: after
    title: After
    measure: [fvc]
    due: {after: row, at: [1 min, 15 min], early: [0 s, 1 min], late: [90 s, 3 min]}
  - id: pressures
    title: Pressures
    measure: [mip, mep]
    due: {after: row, at: 6 min, late: 4 min}
  - {id: sit, title: Sitting, rest: 5 min}
"""

RICH_STUDY = """
format: 1
name: rich-day
time_zone: Europe/Oslo
visits: [{id: only, protocol: rich.yaml, start: "08:00-14:00"}]
at_most_waiting: 40 min
keep_same: {within_visit: [operator]}
before_first_use: {spirometer: {takes: 6 min, staff: [operator]}}
days: {from: 2027-03-01, to: 2027-03-01, open: {mon: "08:00-16:00"}}
rigs:
  spirometer: [S1, S2, X1]
  meter: [M1, X1]
  ergometer: [E1]
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
availability: availability.csv
outages: outages.csv
"""

STAFF = (
    "person,roles\nK1,operator;support\nK2,operator;lead;support\nK3,lead;cleaner\nK4,support;cleaner;lead\n"
)
SHIFTS = (
    "person,days,from,to,breaks\n"
    "K1,mon,08:00,16:00,12:00-12:30\n"
    "K2,mon,08:00,16:00,12:30-13:00\n"
    "K3,mon,08:00,15:30,11:00-11:15;13:00-13:30\n"
    "K4,mon,08:00,16:00,\n"
)
AVAILABILITY = ("R01,mon,08:00,12:00", "R02,mon,08:00,10:00", "R02,mon,12:00,15:00")
OUTAGES = "rig,from,to\nS1,2027-03-01T10:00,2027-03-01T11:00\n"


@pytest.fixture
def rich_day(tmp_path: Path) -> Callable[..., DayProblem]:
    """A function that writes the study, with lines replaced, and gives its day; `count` participants."""

    def make(count: int = 3, changes: dict[str, str] | None = None, **given: object) -> DayProblem:
        comers = [f"R{n:02}" for n in range(1, count + 1)]
        lines = [line for line in AVAILABILITY if line[:3] in comers]
        texts = {
            "rich.yaml": RICH_PROTOCOL,
            "study.yaml": RICH_STUDY,
            "staff.csv": STAFF,
            "shifts.csv": SHIFTS,
            "availability.csv": "\n".join(["participant,days,from,to", *lines, ""]),
            "outages.csv": OUTAGES,
            "participants.csv": "\n".join(["participant", *comers, ""]),
        }
        for name, text in texts.items():
            for old, new in (changes or {}).items():
                text = text.replace(old, new)
            (tmp_path / name).write_text(text, encoding="utf-8")
        study = read_study(tmp_path)
        (day,) = study.open
        visits = tuple(visit for asked in study.asked.values() for visit in asked)
        return DayProblem(study, visit_plans(study), day, visits, **given)  # type: ignore[arg-type]

    return make


@pytest.fixture
def judged() -> Callable[..., list[str]]:
    """A function that gives what the judge finds broken in a packed day, visits without a place apart."""

    def judge(problem: DayProblem, result: object) -> list[str]:
        study, visits = problem.study, (*problem.frozen, *result.visits)  # type: ignore[attr-defined]
        tasks = (*problem.frozen_tasks, *result.rig_tasks)  # type: ignore[attr-defined]
        asked = sum(len(its) for its in study.asked.values())
        schedule = Schedule(
            study.name,
            1,
            None,
            study.fingerprint,
            min((visit.start for visit in visits), default=next(iter(study.open.values()))[0].start),
            Outcome.FEASIBLE,
            asked,
            (),
            visits,
            tasks,
        )
        verdict = verify(schedule, study, problem.plans)
        return [f"{b.rule}: {b.message}" for b in verdict.broken if b.rule != "all-asked"]

    return judge


@pytest.fixture
def change() -> Callable[[Path, str, str], None]:
    """Writes something else into a file, for what must stand in it."""

    def write(file: Path, old: str, new: str) -> None:
        text = file.read_text("utf-8")
        assert old in text
        file.write_text(text.replace(old, new), encoding="utf-8")

    return write


@pytest.fixture
def asked() -> Callable[[Path], Finding]:
    """What can be proven of all visits of a study, as if nothing had been placed, without packing first."""

    def ask(folder: Path) -> Finding:
        study = read_study(folder)
        case = Case(study, visit_plans(study))
        budget = Budget(time.monotonic() + 120, workers=1)
        return find_reasons(case, case.visits, budget, Bounds(study, case.plans))

    return ask


@pytest.fixture
def told(asked: Callable[[Path], Finding]) -> Callable[[Path], str]:
    """The reasons of a study, a line each with its place."""
    return lambda folder: "\n".join(f"{r.file}:{r.line} {r.message}" for r in asked(folder).reasons)


MONDAY = date(2027, 3, 1)


@pytest.fixture(scope="session")
def one_bench() -> Callable[..., Study]:
    """A function that writes and reads a study of one bench, for which everybody comes several times."""
    return _one_bench


def _one_bench(
    folder: Path,
    *,
    minutes: Sequence[int] = (20, 30),
    people: int = 2,
    days: int = 1,
    closes: str = "10:00",
    gap: str = "{at_least: 0 d}",
    more: str = "",
    fixed: Sequence[str] = (),
    available: Sequence[str] = (),
) -> Study:
    """A study of one bench: each participant comes to visits of so many minutes, one after another."""
    names = [f"step-{n}" for n in range(1, len(minutes) + 1)]
    for name, length in zip(names, minutes, strict=True):
        text = f"""\
            format: 1
            name: {name}
            title: One of several
            version: "1"
            visit:
              - {{id: work, title: Work, takes: {length} min, staff: lead, rig: bench}}
            """
        (folder / f"{name}.yaml").write_text(textwrap.dedent(text), "utf-8")
    last = MONDAY + timedelta(days=days - 1)
    kinds = ", ".join(f"{{id: {name}, protocol: {name}.yaml}}" for name in names)
    tables = {"fixed": fixed, "availability": available}
    named = "".join(f"{name}: {name}.csv\n" for name, lines in tables.items() if lines)
    study = f"""\
        format: 1
        name: too-full
        time_zone: Europe/Oslo
        visits: [{kinds}]
        between_visits: {gap}
        days: {{from: {MONDAY}, to: {last}, open: {{mon-sun: "08:00-{closes}"}}}}
        rigs: {{bench: [B1]}}
        staff: staff.csv
        shifts: shifts.csv
        participants: participants.csv
        """
    heads = {"fixed": "participant,visit,date,start,rig,person", "availability": "participant,days,from,to"}
    texts = {
        "study.yaml": textwrap.dedent(study) + more + named,
        "staff.csv": "person,roles\nK1,lead\n",
        "shifts.csv": "person,days,from,to,breaks\nK1,mon-sun,08:00,18:00,\n",
        "participants.csv": "\n".join(["participant", *(f"P{n}" for n in range(1, people + 1)), ""]),
        **{f"{name}.csv": "\n".join([heads[name], *its, ""]) for name, its in tables.items() if its},
    }
    for name, text in texts.items():
        (folder / name).write_text(text, "utf-8")
    return read_study(folder)
