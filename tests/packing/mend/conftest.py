"""Small running days, written as a coordinator would tell them: who, what, when, on what, with whom."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest

from planner.clock import later
from planner.packing.mend.troubles import Troubles
from planner.packing.repack import repack
from planner.schedule.beside_asked import asked_visit
from planner.schedule.model import Activity, Outcome, PlacedVisit, PlacedWatch, Schedule
from planner.schedule.plans import visit_plans
from planner.schedule.repacked import broken_off, verify_repacked, waiting_in
from planner.schedule.verify import verify
from planner.study.model import Study
from planner.study.read import read_study
from planner.timing.plan import PlannedActivity, VisitPlan

DAY = "2027-03-01"
STUDY = """
format: 1
name: cycling
time_zone: Europe/Oslo
visits: [{id: short, protocol: short.yaml}]
days: {from: 2027-03-01, to: 2027-03-01, open: {mon-fri: "08:00-14:00"}}
rigs: {spirometer: [S1, S2], meter: [M1, M2], bike: [B1]}
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
"""
MANOEUVRES = """
format: 1
name: short
title: Short visit
version: "1"
cautions: [Stop when the participant asks to.]
manoeuvres:
  fvc:
    title: Forced vital capacity
    rig: spirometer
    staff: operator
    prepare: 1 min
    effort: 20 s
    rest: 30 s
    efforts: 4
    clear: {takes: 2 min, staff: operator}
  mip: {title: In, rig: meter, staff: operator, prepare: 40 s, effort: 10 s, rest: 30 s, efforts: 3}
  mep:
    title: Out
    rig: meter
    staff: operator
    prepare: 40 s
    effort: 10 s
    rest: 30 s
    efforts: 3
    clear: 2 min
visit:
"""
PEOPLE = {"K1": "operator", "K2": "lead", "K3": "lead", "K4": "operator"}


@dataclass
class RunningDay:
    """A study of one day with its plan, and what a test asks of both."""

    study: Study
    plans: dict[str, VisitPlan]
    plan: Schedule

    def at(self, clock: str) -> datetime:
        """That time of the day."""
        return datetime.fromisoformat(f"{DAY}T{clock}").replace(tzinfo=self.study.zone)

    def mend(self, now: str, **troubles: object) -> Schedule:
        """The mended plan, once both judges are silent."""
        told = Troubles(**troubles)  # type: ignore[arg-type]
        moment = self.at(now)
        found = repack(self.study, self.plans, self.plan, now=moment, troubles=told, seconds=10)
        assert [one.message for one in found.reasons if "stands as it was" in one.message] == []
        assert [one.message for one in verify(found, self.study, self.plans).broken] == []
        assert [one.message for one in self.against(found, moment, told)] == []
        return found

    def against(self, found: Schedule, now: datetime, told: Troubles) -> tuple[object, ...]:
        """What the judge of a mended plan says of it."""
        waiting = {*waiting_in(self.plan, found, tuple(told.late))}
        waiting |= {*broken_off(self.plan, now, told.cancelled, told.out_of_use)}
        return verify_repacked(self.plan, found, now, waiting)


@pytest.fixture
def running_day(tmp_path: Path) -> Callable[..., RunningDay]:
    """Makes a day of the steps of a visit (YAML) and its visits.

    A line with one word names a participant; the others are an activity each, in the order of the protocol:
    its start, then rigs and people in the order in which the protocol names classes and roles; after `+` who
    stays afterwards. Tables beyond those of every day, as `outages`, come by name; so do `breaks`, and other
    `shifts`, by person.
    """

    def make(
        steps: str,
        visits: str,
        breaks: Mapping[str, str] | None = None,
        shifts: Mapping[str, str] | None = None,
        **tables: str,
    ) -> RunningDay:
        names = [line.strip() for line in visits.splitlines() if len(line.split()) == 1]
        its = {who: f"08:00,14:00,{(breaks or {}).get(who, '')}" for who in PEOPLE} | dict(shifts or {})
        _write(tmp_path, steps, names, its, tables)
        study = read_study(tmp_path)
        plans = dict(visit_plans(study))
        placed = tuple(_visits(study, next(iter(plans.values())), visits))
        made = datetime.fromisoformat("2027-02-01T09:00").replace(tzinfo=study.zone)
        plan = Schedule(
            study.name, 1, None, study.fingerprint, made, Outcome.FEASIBLE, len(placed), (), placed
        )
        assert [one.message for one in verify(plan, study, plans).broken] == []
        return RunningDay(study, plans, plan)

    return make


def _write(
    folder: Path, steps: str, participants: list[str], hours: Mapping[str, str], tables: Mapping[str, str]
) -> None:
    shifts = [f"{who},mon-fri,{its}" for who, its in hours.items()]
    files = {
        "study.yaml": STUDY + "".join(f"{name}: {name}.csv\n" for name in tables),
        **{f"{name}.csv": table for name, table in tables.items()},
        "short.yaml": MANOEUVRES + steps,
        "participants.csv": "\n".join(["participant", *participants]),
        "staff.csv": "\n".join(["person,roles", *(f"{who},{roles}" for who, roles in PEOPLE.items())]),
        "shifts.csv": "\n".join(["person,days,from,to,breaks", *shifts]),
    }
    for name, text in files.items():
        (folder / name).write_text(text + "\n", encoding="utf-8")


def _visits(study: Study, plan: VisitPlan, text: str) -> Iterator[PlacedVisit]:
    told: dict[str, list[Activity]] = {}
    for words in filter(None, map(str.split, text.splitlines())):
        if len(words) == 1:
            own = told.setdefault(words[0], [])
            continue
        own.append(_activity(study, plan.activities[len(own)], words))
    for participant, activities in told.items():
        visit = PlacedVisit(participant, "short", None, None, tuple(activities))
        assert asked_visit(visit, study)
        yield visit


def _activity(study: Study, planned: PlannedActivity, words: list[str]) -> Activity:
    start = datetime.fromisoformat(f"{DAY}T{words[0]}").replace(tzinfo=study.zone)
    served, _, staying = " ".join(words[1:]).partition("+")
    names, rigs = served.split(), len(planned.rigs)
    end = later(start, planned.length_s)
    cleared = planned.clear and any(one not in planned.keeps for one in planned.rigs)
    watch = planned.watch
    stay = watch and PlacedWatch(
        dict(zip(watch.staff, staying.split(), strict=True)), later(end, watch.for_s)
    )
    return Activity(
        step=planned.step,
        at_s=planned.at_s,
        manoeuvre=planned.manoeuvre,
        rigs=tuple(names[:rigs]),
        staff=dict(zip(planned.staff, names[rigs:], strict=True)),
        start=start,
        first_effort=later(start, planned.prepare_s) if planned.manoeuvre else None,
        end=end,
        rig_free=later(end, planned.clear.takes_s) if cleared and planned.clear else end,
        planned_efforts=planned.planned_efforts,
        watch=stay,
    )
