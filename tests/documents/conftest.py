"""Protocols, studies and schedules built by hand from the border types, without reader, timer or packer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace

import pytest

from planner.clock import Interval, at_clock, later, zone
from planner.protocol.model import (
    Clearing,
    Due,
    During,
    EnoughLine,
    Length,
    Manoeuvre,
    Protocol,
    Reading,
    Step,
    StopIf,
    TimePoint,
    Watch,
)
from planner.quantity import quantity
from planner.schedule.model import Activity, Outcome, PlacedVisit, PlacedWatch, RigTask, Schedule, Stage
from planner.study.model import FirstUse, Person, Rig, Study, Visit, VisitKind

HALIFAX = zone("America/Halifax")


def manoeuvre(id="fvc", **changes) -> Manoeuvre:
    """A spirometry block of three to eight efforts, or whatever `changes` make of it."""
    usual = Manoeuvre(
        id=id,
        title="Forced vital capacity",
        rigs=("spirometer",),
        staff=("operator",),
        prepare_s=60,
        effort_s=20,
        rest_s=30,
        at_least=3,
        at_most=8,
        enough=(
            EnoughLine("FVC", "largest", 2, (quantity("0.150 L"),)),
            EnoughLine("FEV1", "largest", 2, (quantity("0.150 L"),)),
        ),
        readings={
            "FVC": Reading("FVC", "L", quantity("4.80 L"), quantity("2 %")),
            "FEV1": Reading("FEV1", "L", quantity("3.90 L"), quantity("2 %")),
        },
        stop_if=(StopIf("FEV1", quantity("80 %")),),
        clear=Clearing(120, ("operator",)),
        say=("Breathe in as far as you can, then blast it out and keep going until I say rest.",),
        how="You breathe in as far as you can. Then you blow out hard and fast, until no more air comes.",
        feels="You may feel light in the head for a moment.",
        kit=("mouthpiece", "filter", "nose clip"),
    )
    return replace(usual, **changes)


def mep(**changes) -> Manoeuvre:
    """Blowing against a closed tube, with a second person at the cheeks."""
    return manoeuvre(
        "mep",
        **{
            "title": "Maximal expiratory pressure",
            "rigs": ("mouth-pressure meter",),
            "staff": ("operator", "cheek support"),
            "prepare_s": 45,
            "effort_s": 10,
            "at_most": 5,
            "enough": (EnoughLine("MEP", "any", 3, (quantity("10 %"), quantity("5 cmH2O"))),),
            "readings": {"MEP": Reading("MEP", "cmH2O", quantity("140 cmH2O"), quantity("5 %"))},
            "stop_if": (),
            "clear": None,
            "say": ("Fill up, then push as hard as you can against the tube. Push, push, push.",),
            "how": "You breathe in fully. Then you push out as hard as you can, but no air moves.",
            "feels": "Your ears and cheeks may feel tight.",
            "kit": ("mouthpiece", "filter"),
            **changes,
        },
    )


def rowing_protocol(**changes) -> Protocol:
    """Before, during and after a bout of known length, two manoeuvres, three time points."""
    fvc, short = manoeuvre(), manoeuvre("fvc-after", at_least=2, at_most=3, stop_if=())
    usual = Protocol(
        name="cold-air-rowing",
        title="Breathing before and after rowing in cold air",
        version="1.0",
        cautions=("Keep the participant in sight while in the cold room.",),
        manoeuvres={"fvc": fvc, "fvc-after": short, "mep": mep()},
        visit=(
            Step(id="arrive", title="Arrival and questions", takes=Length(600, 600, 600), staff=("lead",)),
            Step(id="before", title="Measures before rowing", measure=("fvc", "mep")),
            Step(
                id="row",
                title="Rowing in the cold room",
                takes=Length(1200, 1200, 1200),
                exercise=True,
                rigs=("rowing ergometer",),
                staff=("lead",),
                clear=Clearing(180),
                watch=Watch(("lead",), 900),
                during=(During(("fvc-after",), (TimePoint(600, 0, 60),)),),
            ),
            Step(
                id="after",
                title="Measures after rowing",
                measure=("fvc-after", "mep"),
                due=Due(
                    "row",
                    "after",
                    "end",
                    (TimePoint(60, 0, 30), TimePoint(600, 0, 120), TimePoint(1800, 60, 120)),
                ),
            ),
            Step(id="sit", title="Seated recovery", rest_s=600),
        ),
        priority=("after/fvc-after", "after/mep"),
        file="cold-air-rowing.yaml",
    )
    return replace(usual, **changes)


def lay(protocol: Protocol, begins: datetime, *, efforts: int = 3, people: dict[str, str] | None = None):
    """The visit's activities, one after the other, due steps at their time or as soon after as they can."""
    roles = people or {"lead": "K1", "operator": "K1", "cheek support": "K2"}
    rigs = {"spirometer": "S1", "mouth-pressure meter": "M1", "rowing ergometer": "E1"}
    ends: dict[str, datetime] = {}
    now, found = begins, []

    def add(step, at_s, start, man=None, length_s=0, watch=None, rig_classes=(), staff=(), clear=None):
        count = None if man is None else min(max(efforts, man.at_least), man.at_most)
        length = length_s if man is None else man.length_s(count)
        end = later(start, length)
        free = later(end, clear.takes_s) if clear else end
        found.append(
            Activity(
                step=step,
                at_s=at_s,
                manoeuvre=man.id if man else None,
                rigs=tuple(rigs.get(c, c) for c in rig_classes),
                staff={role: roles.get(role, f"K{n}") for n, role in enumerate(staff, 3)},
                start=start,
                first_effort=later(start, man.prepare_s) if man else None,
                end=end,
                rig_free=free,
                planned_efforts=count,
                watch=watch(end) if watch else None,
            )
        )
        return end

    def block(step, at_s, start, id):
        man = protocol.manoeuvres[id]
        return add(step, at_s, start, man, rig_classes=man.rigs, staff=man.staff, clear=man.clear)

    for step in protocol.visit:
        if step.takes is not None:
            begun = now
            watching = None
            if step.watch:
                who = {role: roles.get(role, "K3") for role in step.watch.staff}
                watching = lambda end, s=step, w=who: PlacedWatch(w, later(end, s.watch.for_s))  # noqa: E731
            now = add(
                step.id,
                None,
                begun,
                None,
                step.takes.about_s,
                watching,
                step.rigs,
                step.staff,
                step.clear,
            )
            for part in step.during:
                for point in part.time_points:
                    at = later(begun, point.at_s - protocol.manoeuvres[part.measure[0]].prepare_s)
                    for id in part.measure:
                        at = block(step.id, point.at_s, at, id)
        elif step.rest_s is not None:
            now = add(step.id, None, now, None, step.rest_s)
        elif step.due is None or step.due.side == "before":
            at_s = step.due.time_points[0].at_s if step.due else None
            for id in step.measure:
                now = block(step.id, at_s, now, id)
        else:
            for point in step.due.time_points:
                first = protocol.manoeuvres[step.measure[0]]
                wanted = later(ends[step.due.anchor], point.at_s - first.prepare_s)
                now = max(now, wanted, key=datetime.timestamp)
                for id in step.measure:
                    now = block(step.id, point.at_s, now, id)
        ends[step.id] = now
    return tuple(sorted(found, key=lambda a: a.start.timestamp()))


def placed(protocol, begins, participant="ROW-07", visit="rowing", number=2, condition="cold air", **how):
    """One placed visit of that protocol."""
    return PlacedVisit(participant, visit, number, condition, lay(protocol, begins, **how))


def people(days: Sequence[date], tz) -> tuple[Person, ...]:
    """Two people with a shift each day and a break at noon."""

    def at(on, hour, minute=0):
        return at_clock(on, time(hour, minute), tz)

    shifts = {on: (Interval(at(on, 8), at(on, 17)),) for on in days}
    breaks = {on: (Interval(at(on, 12), at(on, 12, 30)),) for on in days}
    return (
        Person("K1", ("lead", "operator"), shifts, shifts, breaks),
        Person("K2", ("operator", "cheek support"), shifts, shifts, breaks),
    )


def study(protocols: dict[str, Protocol], *, participants=("ROW-07",), blind=True, **changes) -> Study:
    """A study whose visits are a practice (where its protocol is given) and two rowings with conditions."""
    days = [date(2027, 3, 1) + timedelta(days=n) for n in range(47)]
    file = "cold-air-rowing.yaml"
    conditions = ("mild air", "cold air")
    kinds = [VisitKind("rowing", {"": file}, conditions, blind)]
    if "practice.yaml" in protocols:
        kinds.insert(0, VisitKind("practice", {"": "practice.yaml"}))
    asked = {}
    for name in participants:
        visits = [Visit(name, "rowing", n, c, file, None, None) for n, c in enumerate(conditions, 1)]
        if "practice.yaml" in protocols:
            visits.insert(0, Visit(name, "practice", None, None, "practice.yaml", None, None))
        asked[name] = tuple(visits)
    usual = Study(
        name="cold-air-rowing-study",
        folder=Path("study"),
        zone=HALIFAX,
        plan_on=Decimal("0.8"),
        seed=1,
        kinds=tuple(kinds),
        protocols=protocols,
        participants=tuple(participants),
        groups={},
        asked=asked,
        first_day=days[0],
        last_day=days[-1],
        open={
            on: (Interval(at_clock(on, time(8), HALIFAX), at_clock(on, time(17), HALIFAX)),)
            for on in days
            if on.weekday() < 5
        },
        rigs=(
            Rig("S1", ("spirometer",)),
            Rig("S2", ("spirometer",)),
            Rig("M1", ("mouth-pressure meter",)),
            Rig("E1", ("rowing ergometer",)),
        ),
        people=people(days, HALIFAX),
        available={},
        before_first_use={"spirometer": FirstUse("spirometer", 600, ("operator",))},
        demo=True,
    )
    return replace(usual, **changes)


def schedule(visits: Sequence[PlacedVisit], *, version=3, tz=HALIFAX, **changes) -> Schedule:
    """A plan of these visits, with a check of S1 before its first use on each day."""
    tasks = tuple(
        RigTask("S1", {"operator": "K1"}, at_clock(on, time(8), tz), later(at_clock(on, time(8), tz), 600))
        for on in sorted({v.date for v in visits})
    )
    usual = Schedule(
        study="cold-air-rowing-study",
        version=version,
        replaces=None,
        fingerprint="f",
        made=datetime(2027, 2, 20, 14, 5, 9, tzinfo=HALIFAX),
        status=Outcome.OPTIMAL,
        asked=len(visits),
        stages=(Stage("placed", len(visits), len(visits), Outcome.OPTIMAL),),
        visits=tuple(visits),
        rig_tasks=tasks,
    )
    return replace(usual, **changes)


def at(hour, minute=0, on=date(2027, 3, 1), tz=HALIFAX) -> datetime:
    """That clock time on the first day of the study."""
    return at_clock(on, time(hour, minute), tz)


@pytest.fixture(scope="session")
def make() -> SimpleNamespace:
    """The builders above, by name."""
    names = (manoeuvre, mep, rowing_protocol, lay, placed, study, schedule, at, people)
    return SimpleNamespace(**{builder.__name__: builder for builder in names})


@pytest.fixture
def one_day(make):
    """(study, schedule) of one participant's second rowing on 1 March 2027."""
    protocol = make.rowing_protocol()
    return make.study({protocol.file: protocol}), make.schedule([make.placed(protocol, make.at(9, 3))])


@pytest.fixture
def both(make):
    """(study, schedule) of a practice visit and a rowing visit, each with a protocol of its own."""
    rowing = make.rowing_protocol()
    practice = make.rowing_protocol(
        name="practice", title="Learning", file="practice.yaml", visit=rowing.visit[:2], priority=()
    )
    study = make.study({rowing.file: rowing, practice.file: practice})
    return study, make.schedule([make.placed(rowing, make.at(9))])
