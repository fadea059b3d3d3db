"""One solve at a time, in a process of its own with a time limit, that can be stopped and keeps the best.

What it tells and what it makes lie in the study's own folder, so that every tab sees the same solve.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import psutil

RUNNING, PROPOSAL, TOLD = "solve.json", "proposal.json", "solve.log"
_GRACE_S = 30  # after its limit a solve that still runs is ended


@dataclass(frozen=True, slots=True)
class Solve:
    """A solve that was started: what for, and how long it may take."""

    pid: int
    began: float  # of the process, by the system's clock
    what: str
    seconds: float


def start(folder: Path, what: str, arguments: Sequence[str], seconds: float) -> bool:
    """Start `testday ARGUMENTS` in a child process; False where one is running already."""
    if running(folder):
        return False
    place = folder / ".testday"
    place.mkdir(exist_ok=True)
    (place / PROPOSAL).unlink(missing_ok=True)
    command = [sys.executable, "-m", "planner", *arguments, "--out", str(place / PROPOSAL)]
    with open(place / TOLD, "w", encoding="utf-8") as told:
        child = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=told, start_new_session=True, cwd=folder
        )
    note = {
        "pid": child.pid,
        "began": psutil.Process(child.pid).create_time(),
        "what": what,
        "seconds": seconds,
    }
    (place / RUNNING).write_text(json.dumps(note), encoding="utf-8")
    return True


def last(folder: Path) -> Solve | None:
    """The solve that was started last, running or not."""
    try:
        return Solve(**json.loads((folder / ".testday" / RUNNING).read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def running(folder: Path) -> Solve | None:
    """The solve that is running now; one that has run far over its limit is ended."""
    solve = last(folder)
    process = _process(solve) if solve else None
    if solve is None or process is None:
        return None
    if time.time() - solve.began > solve.seconds + _GRACE_S:
        process.kill()
        return None
    return solve


def _process(solve: Solve) -> psutil.Process | None:
    """The child itself: a process of the same number that began at another time is somebody else's."""
    try:
        process = psutil.Process(solve.pid)
        alive = process.is_running() and process.status() != psutil.STATUS_ZOMBIE
        return process if alive and abs(process.create_time() - solve.began) < 1 else None
    except psutil.NoSuchProcess:
        return None


def stop(folder: Path) -> None:
    """Ask the running solve to stop and keep the best."""
    solve = running(folder)
    if solve:
        os.kill(solve.pid, signal.SIGTERM)


def told(folder: Path) -> list[str]:
    """What the solve has said so far, line by line."""
    try:
        return (folder / ".testday" / TOLD).read_text("utf-8").splitlines()
    except OSError:
        return []


def proposal(folder: Path) -> Path | None:
    """The plan that the last solve made, or None."""
    path = folder / ".testday" / PROPOSAL
    return path if path.exists() else None


def forget(folder: Path) -> None:
    """Throw the proposal away; the plan in force stays as it is."""
    for name in (PROPOSAL, RUNNING, TOLD):
        (folder / ".testday" / name).unlink(missing_ok=True)
