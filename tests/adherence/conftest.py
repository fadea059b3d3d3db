"""A study by hand: two invented participants row on a plan of one visit each; a record that keeps to it."""

import textwrap
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest

from planner.clock import DaySpan, later, zone
from planner.protocol.model import Reading
from planner.protocol.read import read_protocol
from planner.quantity import quantity
from planner.record.effort import Effort, Happened, Mark, Value, VisitKey
from planner.schedule.model import Activity, Outcome, PlacedVisit, Schedule
from planner.study.model import Study, Visit, VisitKind

ZONE = zone("America/Halifax")
START = datetime(2027, 3, 1, 9, 0, tzinfo=ZONE)

PROTOCOL = """
format: 1
name: rowing
title: Breathing before and after rowing
version: "1.0"
manoeuvres:
  fvc:
    title: Forced vital capacity
    rig: spirometer
    staff: [operator]
    prepare: 60 s
    effort: 20 s
    rest: 30 s
    efforts: {at_least: 3, at_most: 8}
    enough: [{reading: FVC, largest: 2, within: 0.150 L}]
    readings: {FVC: {unit: L, typical: 4.80 L, spread: 2 %}}
  mep:
    title: Maximal expiratory pressure
    rig: mouth-pressure meter
    staff: [operator, cheek support]
    prepare: 45 s
    effort: 10 s
    rest: 30 s
    efforts: 3
    readings: {MEP: {unit: cmH2O, typical: 140 cmH2O, spread: 5 %}}
visit:
  - {id: arrive, title: Arrival, takes: 10 min, staff: [lead]}
  - id: ready
    title: Last measures
    measure: [fvc]
    due: {before: row, at: 5 min, early: 2 min, late: 1 min}
  - id: row
    title: Rowing
    exercise: true
    takes: {about: 20 min, shortest: 8 min, longest: 30 min}
    rig: rowing ergometer
    staff: [lead]
    during: [{measure: [mep], at: [5 min, 15 min], early: 30 s, late: 1 min, if_reached: true}]
  - id: after
    title: Measures after rowing
    measure: [fvc, mep]
    due: {after: row, at: [1 min, 15 min], early: 0 s, late: [30 s, 2 min], important: true}
  - {id: sit, title: Seated recovery, rest: 10 min}
"""


def at(minutes=0, seconds=0, start=START):
    """That long after the start of the visit."""
    return later(start, round(minutes * 60) + seconds)


@dataclass
class Kept:
    """One visit, to be bent by a test: `efforts[step, at_s, manoeuvre]` is a list of starts."""

    key: VisitKey
    start: datetime = START
    efforts: dict = field(default_factory=dict)
    values: dict = field(default_factory=dict)
    marks: dict = field(default_factory=dict)
    notes: dict = field(default_factory=dict)
    stopped: datetime | None = None

    def block(self, step, at_s, manoeuvre, first, count, every):
        self.efforts[step, at_s, manoeuvre] = [later(first, n * every) for n in range(count)]

    def shift(self, label, seconds):
        """Move every effort of a block."""
        self.efforts[label] = [later(moment, seconds) for moment in self.efforts[label]]

    def happened(self):
        """Efforts and marks as the record gives them."""
        efforts = [
            Effort(
                self.key,
                step,
                at_s,
                manoeuvre,
                number,
                moment,
                self._values(step, at_s, manoeuvre, number),
                self.notes.get((step, at_s, manoeuvre, number), ""),
            )
            for (step, at_s, manoeuvre), moments in self.efforts.items()
            for number, moment in enumerate(moments, start=1)
            if moment is not None
        ]
        marks = [Mark(self.key, step, None, what, moment) for (step, what), moment in self.marks.items()]
        if self.stopped:
            marks.append(Mark(self.key, "row", None, "stopped", self.stopped))
        return efforts, marks

    def _values(self, step, at_s, manoeuvre, number):
        given = self.values.get((step, at_s, manoeuvre))
        if given is None:
            name, unit, value = ("FVC", "L", "4.80") if manoeuvre == "fvc" else ("MEP", "cmH2O", "140")
            return (Value(name, Decimal(value), unit),)
        return given[number - 1]


def fvc(*values, acceptable=None):
    """FVC values of the efforts of a block."""
    good = acceptable or [True] * len(values)
    return [(Value("FVC", Decimal(v), "L", a),) for v, a in zip(values, good, strict=True)]


def activity(step, at_s, manoeuvre, start, prepare, count, effort, rest, rig="S1"):
    first = later(start, prepare)
    end = later(first, count * effort + (count - 1) * rest)
    return Activity(step, at_s, manoeuvre, (rig,), {"operator": "K1"}, start, first, end, end, count)


def task(step, start, seconds):
    end = later(start, seconds)
    return Activity(step, None, None, (), {}, start, None, end, end, None)


def placed(participant, number, condition, start):
    """The plan: rowing from 19 to 39 min after the start, the due blocks at their times."""
    mep = ("M1",)
    activities = (
        task("arrive", start, 600),
        activity("ready", 300, "fvc", at(11, 0, start), 60, 3, 20, 30),
        task("row", at(19, 0, start), 1200),
        activity("row", 300, "mep", at(23, 15, start), 45, 3, 10, 30, *mep),
        activity("row", 900, "mep", at(33, 15, start), 45, 3, 10, 30, *mep),
        activity("after", 60, "fvc", at(39, 0, start), 60, 3, 20, 30),
        activity("after", 60, "mep", at(42, 0, start), 45, 3, 10, 30, *mep),
        activity("after", 900, "fvc", at(53, 0, start), 60, 4, 20, 30),
        activity("after", 900, "mep", at(57, 30, start), 45, 3, 10, 30, *mep),
        task("sit", at(60, 0, start), 600),
    )
    return PlacedVisit(participant, "rowing", number, condition, activities)


def kept(participant="ROW-01", number=1, start=START):
    """A record in which everything was done as planned; the +15 min FVC agreed at effort 4."""
    visit = Kept(VisitKey(participant, "rowing", number), start)
    visit.marks = {
        ("arrive", "start"): at(0, 0, start),
        ("arrive", "end"): at(10, 0, start),
        ("row", "start"): at(19, 0, start),
        ("row", "end"): at(39, 0, start),
        ("sit", "start"): at(60, 0, start),
        ("sit", "end"): at(70, 0, start),
    }
    visit.block("ready", 300, "fvc", at(12, 0, start), 3, 50)
    visit.block("row", 300, "mep", at(24, 0, start), 3, 40)
    visit.block("row", 900, "mep", at(34, 0, start), 3, 40)
    visit.block("after", 60, "fvc", at(40, 0, start), 3, 50)
    visit.block("after", 60, "mep", at(42, 45, start), 3, 40)
    visit.block("after", 900, "fvc", at(54, 0, start), 4, 50)
    visit.values["after", 900, "fvc"] = fvc("4.80", "4.60", "4.40", "4.75")
    visit.block("after", 900, "mep", at(58, 15, start), 3, 40)
    return visit


def study_of(protocol, visits, **more):
    """A study that asks for these visits."""
    asked = {}
    for participant, number, condition in visits:
        gap = DaySpan(2, 5) if number > 1 else None
        visit = Visit(participant, "rowing", number, condition, "rowing.yaml", gap, None)
        asked[participant] = (*asked.get(participant, ()), visit)
    kind = VisitKind("rowing", {"": "rowing.yaml"}, ("mild air", "cold air"), blind=True)
    return Study(
        name="small",
        folder=Path("small"),
        zone=ZONE,
        plan_on=Decimal("0.8"),
        seed=1,
        kinds=(kind,),
        protocols={"rowing.yaml": protocol},
        participants=tuple(asked),
        groups={},
        asked=asked,
        first_day=date(2027, 3, 1),
        last_day=date(2027, 4, 16),
        open={},
        rigs=(),
        people=(),
        available={},
        **more,
    )


def schedule_of(*visits, made=datetime(2027, 2, 1, 12, tzinfo=UTC)):
    """A plan of these visits."""
    return Schedule("small", 1, None, "", made, Outcome.FEASIBLE, len(visits), (), tuple(visits))


def happened_of(*visits):
    """The record of these visits, in order of time."""
    parts = [visit.happened() for visit in visits]
    efforts = sorted((e for found, _ in parts for e in found), key=lambda e: e.started)
    marks = sorted((m for _, found in parts for m in found), key=lambda m: m.at)
    return Happened(tuple(efforts), tuple(marks))


def with_peak_flow(protocol):
    """The protocol with four peak flows in place of the FVC after exercise."""
    reading = Reading("PEF", "L/min", quantity("310 L/min"), quantity("20 L/min"))
    fvc = protocol.manoeuvres["fvc"]
    pef = replace(fvc, id="pef", at_least=4, at_most=4, enough=(), readings={"PEF": reading})
    steps = [replace(s, measure=("pef",)) if s.id == "after" else s for s in protocol.visit]
    return replace(protocol, manoeuvres={**protocol.manoeuvres, "pef": pef}, visit=tuple(steps))


@pytest.fixture
def protocol(tmp_path):
    """The rowing visit with a bout to the limit and time points before, during and after it."""
    path = tmp_path / "rowing.yaml"
    path.write_text(textwrap.dedent(PROTOCOL), encoding="utf-8")
    return read_protocol(path)


@pytest.fixture
def by_hand(protocol):
    """Everything for tests by hand, and one study of one planned visit."""
    return SimpleNamespace(
        at=at,
        fvc=fvc,
        kept=kept,
        placed=placed,
        study_of=lambda visits, **more: study_of(protocol, visits, **more),
        schedule_of=schedule_of,
        happened_of=happened_of,
        protocol=protocol,
        study=study_of(protocol, [("ROW-01", 1, "mild air")]),
        schedule=schedule_of(placed("ROW-01", 1, "mild air", START)),
        start=START,
        days=lambda n: START + timedelta(days=n),
        mark=Mark,
        activity=activity,
        task=task,
        values=lambda reading, value, unit: (Value(reading, Decimal(value), unit),),
        with_peak_flow=with_peak_flow,
        replace=replace,
    )
