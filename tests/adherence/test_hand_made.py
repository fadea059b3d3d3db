"""An efforts file written from a plan file, bent by hand, taken in and judged: each to the second.

Nothing of the product's own matching is used to write it: times come from the plan's JSON.
"""

import csv
import io
import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from planner.adherence.as_json import document
from planner.adherence.beside import beside
from planner.adherence.compare import compare
from planner.record.efforts_file import read_efforts
from planner.record.store import open_store
from planner.schedule.plan_file import read_plan
from planner.study.read import read_study

DATA = Path(__file__).parents[1] / "data"
HEAD = (
    "participant", "visit", "step", "at", "manoeuvre", "effort", "started", "reading", "value", "unit",
    "acceptable", "note", "rig",
)  # fmt: skip
LENGTHS = {"fvc": (20, 30), "fvc-short": (20, 30), "mip": (10, 30), "mep": (10, 30)}
FVC = ["4.80", "4.20", "4.80", "3.60", "4.80"]  # of three, and of five, the two largest agree at the last


class Sheet:
    """The rows of the first rowing visit of ROW-01 as planned; `rows[step, at, manoeuvre]` is to be bent."""

    def __init__(self):
        plan = json.loads((DATA / "small-plan.json").read_text(encoding="utf-8"))
        self.visit = next(
            v
            for v in plan["visits"]
            if (v["participant"], v["visit"], v["number"]) == ("ROW-01", "rowing", 1)
        )
        self.blocks, self.marks = {}, {}
        for one in self.visit["activities"]:
            if one["manoeuvre"] is None:
                both = [moment(one["start"]), moment(one["end"])]
                if one["step"] == "sit":
                    self.rest = both
                else:
                    self.marks[one["step"]] = both
                continue
            first, every = moment(one["first_effort"]), sum(LENGTHS[one["manoeuvre"]])
            starts = [first + timedelta(seconds=n * every) for n in range(one["planned_efforts"])]
            self.blocks[one["step"], one["at_s"], one["manoeuvre"]] = [[s, one["rig"]] for s in starts]

    def move(self, label, seconds, since=0):
        for effort in self.blocks[label][since:]:
            effort[0] += timedelta(seconds=seconds)

    def text(self):
        out = io.StringIO()
        writer = csv.writer(out)
        writer.writerow(HEAD)
        for step, both in self.marks.items():
            for what, when in zip(("start", "end"), both, strict=True):
                if when:
                    writer.writerow(row(step, "", "", "", when, what))
        for (step, at_s, manoeuvre), efforts in self.blocks.items():
            at = "" if at_s is None else f"{at_s} s"
            for number, (start, rig) in enumerate(efforts, 1):
                value = ("FVC", FVC[number - 1], "L") if manoeuvre == "fvc" else ("", "", "")
                writer.writerow([*row(step, at, manoeuvre, number, start, value[0]), *value[1:], "", "", rig])
        return out.getvalue()


def moment(text):
    return datetime.fromisoformat(text).replace(tzinfo=None)


def row(step, at, manoeuvre, effort, started, reading):
    return ["ROW-01", "rowing/1", step, at, manoeuvre, effort, started.isoformat(), reading]


def late(sheet):
    for manoeuvre in ("fvc-short", "mep"):
        sheet.move(("after", 900, manoeuvre), 180 + 95)
    return [("time point late", "after", 900, "fvc-short", 95)]


def hurried(sheet):
    sheet.move(("before", None, "mip"), -7, since=1)
    return [("rest cut short", "before", None, "mip", -7)]


def one_too_many(sheet):
    efforts = sheet.blocks["after", 900, "mep"]
    efforts.append([efforts[-1][0] + timedelta(seconds=40), efforts[-1][1]])
    return [("extra efforts", "after", 900, "mep", 1)]


def left_out(sheet):
    del sheet.blocks["after", 120, "mep"]
    return [("missing efforts", "after", 120, "mep", -3)]


def never_measured(sheet):
    del sheet.blocks["after", 120, "fvc-short"]
    return [
        ("missing efforts", "after", 120, "fvc-short", -2),
        ("time point never measured", "after", 120, "fvc-short", None),
    ]


def other_device(sheet):
    for effort in sheet.blocks["before", None, "mep"][1:]:
        effort[1] = "S2"
    return [("other device", "before", None, "mep", 2)]


def without_its_anchor(sheet):
    sheet.marks["row"][1] = None
    return []


def hurried_recovery(sheet):
    """The rest that is a part of the visit: ended 130 s before it was over, and all else as planned."""
    start, end = sheet.rest
    sheet.marks["sit"] = [start, end - timedelta(seconds=130)]
    return [("rest cut short", "sit", None, None, -130)]


def full_recovery(sheet):
    sheet.marks["sit"] = list(sheet.rest)
    return []


def another_day(sheet):
    for efforts in sheet.blocks.values():
        for effort in efforts:
            effort[0] -= timedelta(days=1)
    sheet.marks = {s: [when - timedelta(days=1) for when in both] for s, both in sheet.marks.items()}
    return [("other day", None, None, None, -1)]


def early_by_a_second(sheet):
    """15 min after the end of exercise, at most 1 min early: 14 min are still on time."""
    sheet.move(("after", 900, "fvc-short"), -61)
    return [("time point early", "after", 900, "fvc-short", -1)]


def at_the_edges(sheet):
    sheet.move(("after", 900, "fvc-short"), -60)
    sheet.move(("row", 360, "fvc-short"), 60)
    return []


def mislabelled(sheet):
    """What was measured at 2 min is written down as that of 15 min, and the other way round."""
    for manoeuvre in ("fvc-short", "mep"):
        soon, later = ("after", 120, manoeuvre), ("after", 900, manoeuvre)
        sheet.blocks[soon], sheet.blocks[later] = sheet.blocks[later], sheet.blocks[soon]
    return [
        ("order of blocks", "after", 120, "fvc-short", 2),
        ("order of blocks", "after", 120, "mep", 2),
        ("time point early", "after", 900, "fvc-short", -720),
        ("time point late", "after", 120, "fvc-short", 720),
    ]


def exercise_ended_sooner(sheet):
    """Time points count from the recorded end: measured as planned, 100 s after it ended, 40 s too late."""
    sheet.marks["row"][1] -= timedelta(seconds=100)
    return [("time point late", "after", 120, "fvc-short", 40)]


BENDS = [
    late, hurried, one_too_many, left_out, never_measured, other_device, without_its_anchor, another_day,
    hurried_recovery, full_recovery, early_by_a_second, at_the_edges, mislabelled, exercise_ended_sooner,
]  # fmt: skip


@pytest.mark.parametrize("bend", [None, *BENDS])
def test_each_is_found_with_its_size_and_nothing_else(small, bend):
    sheet = Sheet()
    expected = bend(sheet) if bend else []
    path = small / "efforts.csv"
    path.write_text(sheet.text(), encoding="utf-8")
    study = read_study(small)
    with open_store(study) as store:
        taken = store.take(read_efforts(path, study), by="K1")
        found = compare(
            study, read_plan(DATA / "small-plan.json", study), store.happened(), beside=beside(store)
        )
    assert taken.refused == ()
    own = [d for d in found.deviations if d.kind != "visit without a record"]
    assert sorted((d.kind, d.step, d.at_s, d.manoeuvre, d.size) for d in own) == sorted(expected)
    counts = found.counts
    recorded = sum(map(len, sheet.blocks.values()))
    assert recorded == counts.recorded == counts.matched + counts.extra + counts.refused
    points = document(found)["summary"]["time_points"]
    assert points["no_anchor"] == (2 if bend is without_its_anchor else 0)
