"""The plan file: a schedule to JSON and back, whole or not at all."""

from __future__ import annotations

import json
import os
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from planner.schedule.learned_text import learned_json
from planner.schedule.model import Activity, PlacedVisit, Schedule
from planner.schedule.plan_reading import PlanReading
from planner.study.model import Study


def read_plan(path: Path, study: Study) -> Schedule:
    """The schedule of a plan file of this study; raises FaultyInput with every fault and its place.

    A plan may break rules: that is for `verify` to say. What cannot be understood is a fault here.
    """
    return PlanReading(path, study).schedule()


def plan_json(schedule: Schedule) -> dict[str, Any]:
    """The plan as the formats fix it; `number`, `clear_staff`, `solver`, `learned` are additions."""
    found: dict[str, Any] = {
        "study": schedule.study,
        "version": schedule.version,
        "replaces": schedule.replaces,
        "fingerprint": schedule.fingerprint,
        "made": _text(_made(schedule)),
        "solver": schedule.solver,
        "status": str(schedule.status),
        "asked": schedule.asked,
        "placed": schedule.placed,
        "stages": [
            {"name": stage.name, "value": stage.value, "bound": stage.bound, "status": str(stage.status)}
            for stage in schedule.stages
        ],
        "visits": [_visit(visit) for visit in schedule.visits],
        "rig_tasks": [
            {"rig": task.rig, "staff": dict(task.staff)} | _span(task.start, task.end)
            for task in schedule.rig_tasks
        ],
        "not_placed": [
            {"participant": one.participant, "visit": one.visit, "message": one.message}
            for one in schedule.not_placed
        ],
        "reasons": [{"message": one.message, "file": one.file, "line": one.line} for one in schedule.reasons],
    }
    if schedule.learned is not None:
        found["learned"] = learned_json(schedule.learned)
    if schedule.replaces is not None:
        found["changes"] = [_change(change) for change in schedule.changes]
    return found


def _made(schedule: Schedule) -> datetime:
    """When the plan was made, on the study's clock where the plan shows one."""
    zones = [visit.start.tzinfo for visit in schedule.visits[:1]]
    return schedule.made.astimezone(zones[0]) if zones else schedule.made


def _visit(visit: PlacedVisit) -> dict[str, Any]:
    return {
        "participant": visit.participant,
        "visit": visit.visit,
        "number": visit.number,
        "condition": visit.condition,
        "date": visit.date.isoformat(),
        **_span(visit.start, visit.end),
        "activities": [_activity(activity) for activity in visit.activities],
    }


def _activity(activity: Activity) -> dict[str, Any]:
    rigs = list(activity.rigs)
    found: dict[str, Any] = {
        "step": activity.step,
        "at_s": activity.at_s,
        "manoeuvre": activity.manoeuvre,
        "rig": rigs if len(rigs) > 1 else rigs[0] if rigs else None,
        "staff": dict(activity.staff),
        "start": _text(activity.start),
        "first_effort": _text(activity.first_effort),
        "end": _text(activity.end),
        "rig_free": _text(activity.rig_free),
        "planned_efforts": activity.planned_efforts,
    }
    if activity.watch:
        found["watch"] = {"staff": dict(activity.watch.staff), "end": _text(activity.watch.end)}
    if activity.clear_staff:
        found["clear_staff"] = dict(activity.clear_staff)
    return found


def _change(change: Any) -> dict[str, Any]:
    names = ("participant", "visit", "message", "kind", "step", "at_s", "manoeuvre", "before", "after")
    known = {} if change.since is None else {"since": change.since}
    return {name: getattr(change, name) for name in names} | known


def _span(start: Any, end: Any) -> dict[str, Any]:
    return {"start": _text(start), "end": _text(end)}


def _text(moment: Any) -> str | None:
    return None if moment is None else moment.isoformat(timespec="seconds")


def plan_text(schedule: Schedule) -> str:
    """The plan file's text."""
    return json.dumps(plan_json(schedule), ensure_ascii=False, indent=1) + "\n"


def write_plan(schedule: Schedule, path: Path) -> None:
    """Write the plan file; whoever reads the path finds the old file or the whole new one."""
    write_whole(path, plan_text(schedule))


def write_whole(path: Path, text: str) -> None:
    """Write a text so that the path never holds a part of it, also when the plug is pulled."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", text=False)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
