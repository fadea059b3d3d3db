"""Which plan of a study is in force; the plans that were are kept beside it."""

from __future__ import annotations

import json
from pathlib import Path

from planner.faults import Fault, FaultyInput, Place
from planner.schedule.model import Schedule
from planner.schedule.plan_file import plan_text, write_whole

STATE = ".testday"
POINTER = "in-force.json"


def in_force(folder: Path) -> Path | None:
    """The plan file in force of the study in that folder, or None where none was put in force."""
    pointer = folder / STATE / POINTER
    try:
        name = json.loads(pointer.read_text("utf-8"))["plan"]
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError) as error:
        words = f"{STATE}/{POINTER} cannot be read, so it is not known which plan is in force"
        hint = "Name the plan with --plan, or put it in force anew."
        raise FaultyInput([Fault(Place(f"{STATE}/{POINTER}"), "unreadable", words, hint)]) from error
    return folder / STATE / "plans" / Path(str(name)).name


def put_in_force(folder: Path, schedule: Schedule) -> Path:
    """Keep the plan in the study's folder and make it the one in force; returns where it is kept.

    No kept plan is ever overwritten: another plan of the same version gets a name of its own.
    """
    plans = folder / STATE / "plans"
    plans.mkdir(parents=True, exist_ok=True)
    path = _free(plans, schedule)
    write_whole(path, plan_text(schedule))
    write_whole(folder / STATE / POINTER, json.dumps({"plan": path.name, "version": schedule.version}) + "\n")
    return path


def _free(plans: Path, schedule: Schedule) -> Path:
    """`plan-3.json`, or `plan-3b.json` where another plan 3 is kept already."""
    text = plan_text(schedule)
    for letter in ("", *"bcdefghijklmnopqrstuvwxyz"):
        path = plans / f"plan-{schedule.version}{letter}.json"
        if not path.exists() or path.read_text("utf-8") == text:
            return path
    return plans / f"plan-{schedule.version}-{schedule.made:%Y%m%dT%H%M%S}.json"
