"""How long judging takes, beside a plain pandas loop over the same rows in the same run.

    python tests/benchmarks/adherence_speed.py [--large]

The loop runs over the first 240 visits; with more its time is scaled up, for it grows with the rows.

Bars: 240 visits with 20 000 efforts in 2 s; with --large 1 000 000 efforts in 30 s.
"""

import argparse
import random
import sys
import tempfile
import textwrap
import time
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pandas as pd

from planner.adherence.compare import compare
from planner.clock import later, zone
from planner.protocol.read import read_protocol
from planner.record.effort import Effort, Happened, Mark, Value, VisitKey
from planner.schedule.model import Activity, Outcome, PlacedVisit, Schedule
from planner.study.model import Study, Visit, VisitKind

ZONE = zone("America/Halifax")
LOOPED = 240
PROTOCOL = """
format: 1
name: long
title: A long visit
version: "1.0"
manoeuvres:
  fvc:
    title: Forced vital capacity
    effort: 10 s
    rest: 20 s
    efforts: {at_least: 3, at_most: 8}
    enough: [{reading: FVC, largest: 2, within: 0.150 L}]
    readings: {FVC: {unit: L, typical: 4.80 L, spread: 2 %}}
  mep: {title: Maximal expiratory pressure, effort: 10 s, rest: 20 s, efforts: 4}
visit:
  - {id: before, title: Before, measure: [fvc, mep]}
  - {id: row, title: Rowing, exercise: true, takes: 20 min}
  - {id: after, title: After, measure: [fvc, mep], due: {after: row, at: [AT], late: 2 min}}
"""
POINTS_S = [60 + 600 * n for n in range(11)]  # 12 sets of 3 + 4 efforts: 84 a visit


def study_of(visits: int) -> tuple[Study, Schedule]:
    """That many participants, one visit each."""
    text = textwrap.dedent(PROTOCOL).replace("AT", ", ".join(f"{s} s" for s in POINTS_S))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.yaml"
        path.write_text(text, encoding="utf-8")
        protocol = read_protocol(path)
    codes = tuple(f"P{n:05d}" for n in range(visits))
    study = Study(
        name="speed", folder=Path(), zone=ZONE, plan_on=Decimal("0.8"), seed=1,
        kinds=(VisitKind("rowing", {"": "long.yaml"}),), protocols={"long.yaml": protocol},
        participants=codes, groups={},
        asked={code: (Visit(code, "rowing", None, None, "long.yaml", None, None),) for code in codes},
        first_day=date(2027, 1, 1), last_day=date(2027, 12, 31), open={}, rigs=(), people=(), available={},
    )  # fmt: skip
    first = datetime(2027, 1, 4, 8, tzinfo=ZONE)
    placed = tuple(
        _placed(code, first + timedelta(days=n // 3, hours=3 * (n % 3))) for n, code in enumerate(codes)
    )
    made = datetime(2026, 12, 1, tzinfo=UTC)
    return study, Schedule("speed", 1, None, "", made, Outcome.FEASIBLE, visits, (), placed)


def _placed(code: str, start: datetime) -> PlacedVisit:
    activities = [*_set("before", None, start)]
    row = later(start, 600)
    end = later(row, 1200)
    activities.append(Activity("row", None, None, (), {}, row, None, end, end, None))
    for at_s in POINTS_S:
        activities += _set("after", at_s, later(end, at_s))
    return PlacedVisit(code, "rowing", None, None, tuple(activities))


def _set(step: str, at_s: int | None, first: datetime) -> list[Activity]:
    found = []
    for manoeuvre, efforts in (("fvc", 3), ("mep", 4)):
        end = later(first, efforts * 30 - 20)
        found.append(Activity(step, at_s, manoeuvre, ("S1",), {}, first, first, end, end, efforts))
        first = later(end, 20)
    return found


def happened_of(schedule: Schedule) -> Happened:
    """The plan as kept, each effort up to 15 s off."""
    draw = random.Random(1)
    efforts, marks = [], []
    for visit in schedule.visits:
        key = VisitKey(visit.participant, visit.visit, None)
        for a in visit.activities:
            if a.manoeuvre is None:
                marks += [Mark(key, a.step, None, "start", a.start), Mark(key, a.step, None, "end", a.end)]
                continue
            moment = a.first_effort
            for number in range(1, (a.planned_efforts or 0) + 1):
                moment = later(moment, draw.randrange(15) if number == 1 else 28 + draw.randrange(6))
                values, rig = _values(a, draw), draw.choices(["S1", "S2", None], [90, 1, 9])[0]
                efforts.append(Effort(key, a.step, a.at_s, a.manoeuvre, number, moment, values, rig=rig))
    return Happened(tuple(efforts), tuple(marks))


def _values(activity: Activity, draw: random.Random) -> tuple[Value, ...]:
    if activity.manoeuvre != "fvc":
        return ()
    return (Value("FVC", Decimal(round(draw.gauss(4800, 96))) / 1000, "L"),)


def plain_loop(study: Study, schedule: Schedule, happened: Happened) -> tuple[int, int]:
    """The same seconds and time points as a first script would do it; sums to compare."""
    manoeuvres = study.protocols["long.yaml"].manoeuvres
    frame = pd.DataFrame(
        [
            (e.key.participant, e.step, e.at_s or 0, e.manoeuvre, e.number, e.started)
            for e in happened.efforts
        ],
        columns=["participant", "step", "at_s", "manoeuvre", "effort", "started"],
    )
    plan = {
        (v.participant, a.step, a.at_s or 0, a.manoeuvre): a for v in schedule.visits for a in v.activities
    }
    ends = {m.key.participant: m.at for m in happened.marks if m.what == "end"}
    off, on_time = 0, 0
    for label, group in frame.groupby(["participant", "step", "at_s", "manoeuvre"]):
        activity, manoeuvre = plan[label], manoeuvres[label[3]]
        ended = None
        for _, row in group.sort_values("started").iterrows():
            planned = activity.first_effort + timedelta(
                seconds=(row["effort"] - 1) * (manoeuvre.effort_s + manoeuvre.rest_s)
            )
            off += round((row["started"] - planned).total_seconds())
            rest = None if ended is None else (row["started"] - ended).total_seconds()
            ended = row["started"] + timedelta(seconds=manoeuvre.effort_s)
            del rest
        if label[1] == "after" and label[3] == "fvc":
            after = (group["started"].min() - ends[label[0]]).total_seconds()
            on_time += label[2] <= after <= label[2] + 120
    return off, on_time


def measure(visits: int, bar_s: float) -> bool:
    """One line of the table; whether the bar is met."""
    study, schedule = study_of(visits)
    happened = happened_of(schedule)
    start = time.perf_counter()
    found = compare(study, schedule, happened)
    ours = time.perf_counter() - start
    some = frozenset(study.participants[:LOOPED])
    part = Happened(
        tuple(e for e in happened.efforts if e.key.participant in some),
        tuple(m for m in happened.marks if m.key.participant in some),
    )
    start = time.perf_counter()
    off, on_time = plain_loop(study, schedule, part)
    plain = (time.perf_counter() - start) * visits / len(some)
    assert on_time == sum(p.on_time is True for p in found.time_points if p.key.participant in some)
    assert off == sum(line.off_s or 0 for line in found.efforts if line.key.participant in some)
    print(f"{visits:>7} {len(happened.efforts):>9} {ours:>9.2f} {plain:>12.2f} {bar_s:>7.0f}")
    return ours <= bar_s


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--large", action="store_true")
    print(" visits   efforts   ours, s   pandas loop, s  bar, s")
    met = measure(240, 2)
    if arguments.parse_args().large:
        met = measure(11_905, 30) and met
    sys.exit(not met)
