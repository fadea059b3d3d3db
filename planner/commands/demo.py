"""A working copy of the shipped demo study, packed and half rehearsed, so that the original stays clean."""

from __future__ import annotations

import hashlib
import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from planner.commands.words import in_plain_words, say

if TYPE_CHECKING:
    from planner.study.model import Study

REHEARSED_SHARE = 0.6  # of the test days; the rest is there to be worked on the Test day page


def working_copy(folder: Path, say: Callable[[str], None]) -> Path:
    """The folder itself; for a study marked `demo: true` a packed, rehearsed copy in the user's own space."""
    target = ready_copy(folder)
    if target is None:
        target = _copy_of(folder)
        if not _is_demo(folder):
            return folder
        from planner.study.read import read_study

        say(f"The demo study is copied to {target}; its original is left as it is.")
        shutil.rmtree(target.parent, ignore_errors=True)
        _copy(folder, target)
        _rehearse(read_study(target), say)
        (target / ".testday" / "ready").touch()
    return target


def ready_copy(folder: Path) -> Path | None:
    """What can be opened at once: the folder itself, or the copy if there is one; None: it is to be made."""
    if not _may_be_demo(folder):
        return folder
    target = _copy_of(folder)
    return target if (target / ".testday" / "ready").exists() else None


def in_the_making(folder: Path) -> tuple[int, int]:
    """Starts another process that makes the copy: a file number that tells its folder then, and its id."""
    told, telling = os.pipe()
    words = [sys.executable, "-m", "planner.commands.demo", str(folder)]
    maker = os.posix_spawn(
        sys.executable, words, os.environ, file_actions=[(os.POSIX_SPAWN_DUP2, telling, 1)]
    )
    os.close(telling)
    os.set_inheritable(told, True)  # for the server, which takes this process over
    return told, maker


def _copy_of(folder: Path) -> Path:
    return _space() / _mark(folder) / folder.name


def _may_be_demo(folder: Path) -> bool:
    """Whether the study's text says so in some place: to know for sure takes half a second of reading in."""
    try:
        return b"demo" in (folder / "study.yaml").read_bytes()
    except OSError:
        return False


def _is_demo(folder: Path) -> bool:
    from planner.faults import FaultyInput
    from planner.study.read import read_study

    try:
        return read_study(folder).demo
    except FaultyInput:
        return False  # the app itself shows the mistakes


def _space() -> Path:
    base = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    return Path(base) / "testday" / "demo"


def _mark(folder: Path) -> str:
    """Changes with the place and content of the original, so that two demos are never mixed."""
    seen = hashlib.sha256(str(folder).encode())
    for file in sorted([*folder.glob("*.*"), *folder.parent.glob("protocols/*.yaml")]):
        if file.is_file():
            seen.update(file.name.encode() + file.read_bytes())
    return seen.hexdigest()[:12]


def _copy(folder: Path, target: Path) -> None:
    shutil.copytree(folder, target, ignore=shutil.ignore_patterns(".testday"))
    protocols = folder.parent / "protocols"
    if protocols.is_dir():
        shutil.copytree(protocols, target.parent / "protocols")


def _rehearse(study: Study, say: Callable[[str], None]) -> None:
    """Put the shipped plan in force and play its first weeks into the rehearsal record.

    Neither where somebody has changed the demo's files so that its plan is of other visits.
    """
    from planner.record.rehearse import rehearse
    from planner.record.store import open_store
    from planner.schedule.as_it_stands import broken_as_it_stands, strange
    from planner.schedule.in_force import put_in_force
    from planner.schedule.plan_file import read_plan
    from planner.schedule.plans import visit_plans

    schedule = read_plan(study.folder / "plan.json", study)
    plans = visit_plans(study)
    if strange(broken_as_it_stands(schedule, study, plans)):
        say("The demo's plan is of other visits than its files ask for now: make the schedule anew.")
        return
    put_in_force(study.folder, schedule)
    dates = schedule.dates
    last = dates[int(len(dates) * REHEARSED_SHARE) - 1]
    say(f"Rehearsing the test days up to {last} with made-up numbers.")
    lines = rehearse(study, schedule, plans, seed=study.seed, until=last)
    with open_store(study, rehearsed=True) as store:
        store.take(lines, by=study.people[0].id)


@in_plain_words
def main(folder: Path) -> None:
    """Makes the copy where it is not there yet, and tells its folder on standard output."""
    sys.stdout.buffer.write(os.fsencode(working_copy(folder, say)))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
