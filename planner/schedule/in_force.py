"""Which plan of a study is in force; the plans that were are kept beside it."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from pathlib import Path

from planner.faults import Fault, FaultyInput, Place
from planner.schedule.changes import changes
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


def kept_plans(folder: Path) -> tuple[Path, ...]:
    """The plans that were put in force in that study, the latest version first."""
    found = (folder / STATE / "plans").glob("plan-*.json")
    return tuple(sorted(found, key=lambda path: (_version(path), path.name), reverse=True))


def _version(path: Path) -> int:
    """The version in the file's name: 3 of `plan-3.json` and of `plan-3b.json`."""
    digits = "".join(itertools.takewhile(str.isdigit, path.stem.removeprefix("plan-")))
    return int(digits or 0)


def again(earlier: Schedule, now: Schedule) -> Schedule:
    """An earlier plan as the next one after that which is in force now, to go back to it."""
    return replace(earlier, version=now.version + 1, replaces=now.version, changes=changes(now, earlier))


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
