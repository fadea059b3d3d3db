"""Made-up studies of many visits, as study folders: random weekdays, half-days, days away, closed days."""

from __future__ import annotations

import csv
import random
import shutil
from datetime import date, timedelta
from pathlib import Path

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri")
FIRST = date(2027, 3, 1)
PEOPLE = (
    ("operator;cheek support", "08:00", "16:30", "12:00-12:30"),
    ("operator;cheek support;lead", "08:00", "17:00", "12:30-13:00"),
    ("lead;cheek support", "08:00", "17:00", "13:00-13:30"),
)
PROTOCOL = """format: 1
name: treadmill-day
title: Breathing before and after running
version: "1.0"
cautions: [Stop when the participant asks to.]
manoeuvres:
  fvc: {title: Forced vital capacity, rig: spirometer, staff: [operator], prepare: 60 s, effort: 20 s,
        rest: 30 s, efforts: 5, clear: 2 min}
  mip: {title: Maximal inspiratory pressure, rig: mouth-pressure meter, staff: [operator], prepare: 45 s,
        effort: 10 s, rest: 30 s, efforts: 4}
  mep: {title: Maximal expiratory pressure, rig: mouth-pressure meter, staff: [operator, cheek support],
        prepare: 45 s, effort: 10 s, rest: 30 s, efforts: 4, clear: 2 min}
visit:
  - {id: welcome, title: Arrival and questions, takes: 10 min, staff: [lead]}
  - {id: before, title: Before, measure: [fvc, mip, mep]}
  - {id: run, title: Running, exercise: true, takes: 20 min, rig: treadmill, staff: [lead], clear: 3 min}
  - {id: after-1, title: At once, measure: [fvc], due: {after: run, at: 1 min, late: 1 min}}
  - {id: after-5, title: Pressures, measure: [mip, mep], due: {after: run, at: 5 min, late: 2 min}}
  - {id: after-15, title: Quarter of an hour, measure: [fvc, mip, mep],
     due: {after: run, at: 15 min, early: 1 min, late: 2 min}}
  - {id: after-30, title: Half an hour, measure: [fvc, mip, mep],
     due: {after: run, at: 30 min, early: 2 min, late: 5 min}}
  - {id: recover, title: Recovery, rest: 10 min}
"""


def write_study(
    folder: Path, *, participants: int, weeks: int, laboratories: int = 1, seed: int = 1, absences: int = 0
) -> Path:
    """A study of four visits a participant, 7 to 21 days apart, at the same time of day within 2 h."""
    draw = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    last = FIRST + timedelta(days=7 * weeks - 3)
    days = [FIRST + timedelta(days=n) for n in range((last - FIRST).days + 1)]
    closed = [day for day in days if day.weekday() < 5 and draw.random() < 0.05]
    codes = [f"Q{number:04d}" for number in range(1, participants + 1)]
    people = [(f"T{number}", *PEOPLE[(number - 1) % 3]) for number in range(1, 3 * laboratories + 1)]
    (folder / "treadmill-day.yaml").write_text(PROTOCOL, encoding="utf-8")
    text = _study_yaml(folder.name, last, closed, laboratories, absences)
    (folder / "study.yaml").write_text(text, "utf-8")
    _table(folder / "staff.csv", "person,roles", [(name, roles) for name, roles, *_ in people])
    _table(
        folder / "shifts.csv",
        "person,days,from,to,breaks",
        [(name, "mon-fri", start, end, pause) for name, _, start, end, pause in people],
    )
    _table(folder / "participants.csv", "participant", [(code,) for code in codes])
    _table(folder / "availability.csv", "participant,days,from,to", _availability(draw, codes, days))
    if absences:
        working = [day for day in days if day.weekday() < 5]
        away = [(draw.choice(people)[0], draw.choice(working)) for _ in range(absences)]
        _table(
            folder / "absences.csv",
            "person,from,to",
            [(who, f"{day}T08:00", f"{day}T17:00") for who, day in sorted(set(away))],
        )
    return folder


def _study_yaml(name: str, last: date, closed: list[date], laboratories: int, absences: int) -> str:
    def rigs(letter: str, count: int) -> str:
        return ", ".join(f"{letter}{n}" for n in range(1, count * laboratories + 1))

    return f"""format: 1
name: {name}
time_zone: Europe/Oslo
seed: 1
at_most_waiting: 40 min
same_time_of_day: 2 h
visits:
  - id: run
    protocol: treadmill-day.yaml
    conditions: [A, B, C, D]
    order: balanced
    between_conditions: {{at_least: 7 d, at_most: 21 d}}
days: {{from: {FIRST}, to: {last}, open: {{mon-fri: "08:00-17:00"}}, closed: [{", ".join(map(str, closed))}]}}
rigs:
  spirometer: [{rigs("S", 2)}]
  mouth-pressure meter: [{rigs("M", 2)}]
  treadmill: [{rigs("B", 1)}]
staff: staff.csv
shifts: shifts.csv
participants: participants.csv
availability: availability.csv
{"absences: absences.csv" if absences else ""}
"""


def _availability(draw: random.Random, codes: list[str], days: list[date]) -> list[tuple[str, str, str, str]]:
    """Three to five weekdays, a quarter mornings only, a quarter afternoons only, four days away."""
    lines = []
    for code in codes:
        weekdays = sorted(draw.sample(range(5), draw.randint(3, 5)))
        hours = draw.choice([("08:00", "13:00"), ("11:00", "17:00"), ("08:00", "17:00"), ("08:00", "17:00")])
        away = set(draw.sample(days, 4))
        for day in days:
            if day.weekday() in weekdays and day not in away:
                lines.append((code, str(day), *hours))
    return lines


ROOT = Path(__file__).parents[2]
WAITS = {
    "{at_least: 2 d, at_most: 14 d}": "{at_least: 2 d, at_most: 21 d}",
    "{at_least: 4 d, at_most: 12 d}": "{at_least: 7 d, at_most: 21 d}",
}


def write_rowing_study(folder: Path, *, participants: int, weeks: int, cap: int, seed: int = 1) -> Path:
    """The demo study with more people and weeks: practice and three conditions, shifts that differ by day."""
    draw = random.Random(seed)
    shutil.copytree(ROOT / "demo_study", folder, ignore=shutil.ignore_patterns(".testday", "plan.json"))
    shutil.copytree(ROOT / "protocols", folder.parent / "protocols", dirs_exist_ok=True)
    text = (folder / "study.yaml").read_text("utf-8")
    last = date(2027, 10, 11) + timedelta(days=7 * weeks - 3)
    caps = {"at_most_visits_a_day: 6": f"at_most_visits_a_day: {cap}", "to: 2027-11-03": f"to: {last}"}
    for old, new in {**WAITS, **caps}.items():
        text = text.replace(old, new)
    (folder / "study.yaml").write_text(text, "utf-8")
    codes = [f"ROW-{number:03d}" for number in range(1, participants + 1)]
    _table(folder / "participants.csv", "participant", [(code,) for code in codes])
    lines = []
    for code in codes:
        hours = draw.choice([("08:00", "13:00"), ("11:00", "17:00"), ("08:00", "17:00"), ("08:00", "17:00")])
        for number in sorted(draw.sample(range(5), draw.randint(3, 5))):
            lines.append((code, WEEKDAYS[number], *hours))
    _table(folder / "availability.csv", "participant,days,from,to", lines)
    return folder


def _table(path: Path, head: str, rows: list[tuple[str, ...]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(head.split(","))
        writer.writerows(rows)
