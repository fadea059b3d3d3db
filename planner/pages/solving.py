"""One solve at a time, in a process of its own with limits, that can be stopped and keeps the best.

What it tells and what it makes lie in the study's own folder, so that every tab sees the same solve.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import psutil

from planner.files.drafts import write_text
from planner.record.lock import Lock

RUNNING, PROPOSAL, TOLD, STARTING = "solve.json", "proposal.json", "solve.log", "solve.lock"
_GRACE_S = 30  # after its limit a solve that still runs is ended
_MOST_BYTES = 4_000_000_000  # a solve that grows beyond is asked to keep what it has


@dataclass(frozen=True, slots=True)
class Solve:
    """A solve that was started: what for, and how long it may take."""

    pid: int
    began: float  # of the process, by the system's clock
    what: str
    seconds: float
    is_stopping: bool = False  # somebody asked it to stop; it still checks and keeps its best


@dataclass(frozen=True, slots=True)
class Told:
    """Where a solve stands, as it said last; None: not known yet."""

    stage: str
    placed: int
    best: int | None
    bound: int | None
    left_s: float


def start(
    folder: Path, what: str, arguments: Sequence[str], seconds: float, *, answer: str | None = None
) -> bool:
    """Start `testday ARGUMENTS` in a child process; False where one is running already.

    It makes the proposal; with `answer` its standard output goes to that file of `.testday` instead.
    """
    place = folder / ".testday"
    place.mkdir(exist_ok=True)
    with Lock(place / STARTING) as lock:
        if not lock.try_now() or running(folder):
            return False
        out = [] if answer else ["--out", str(place / PROPOSAL)]
        (place / (answer or PROPOSAL)).unlink(missing_ok=True)
        child = _child(place, [sys.executable, "-m", "planner", *arguments, *out], answer)
        _note(place, Solve(child.pid, _began(child.pid), what, seconds))
    return True


def _note(place: Path, solve: Solve) -> None:
    write_text(place / RUNNING, json.dumps(asdict(solve)))


def _child(place: Path, command: Sequence[str], answer: str | None) -> subprocess.Popen[bytes]:
    """The process, of lower priority than the pages, waited for so that nothing of it stays."""
    with open(place / TOLD, "w", encoding="utf-8") as told, open(place / (answer or os.devnull), "w") as out:
        child = subprocess.Popen(command, stdout=out, stderr=told, start_new_session=True, cwd=place.parent)
    threading.Thread(target=child.wait, daemon=True).start()
    with suppress(psutil.Error):
        psutil.Process(child.pid).nice(5 if os.name == "posix" else None)
    return child


def _began(pid: int) -> float:
    """When that process began; now, where it has ended already."""
    try:
        return psutil.Process(pid).create_time()
    except psutil.NoSuchProcess:
        return time.time()


def last(folder: Path) -> Solve | None:
    """The solve that was started last, running or not."""
    try:
        return Solve(**json.loads((folder / ".testday" / RUNNING).read_text("utf-8")))
    except (OSError, ValueError, TypeError):
        return None


def running(folder: Path) -> Solve | None:
    """The solve that is running now; one far over its limits is stopped."""
    solve = last(folder)
    process = _process(solve) if solve else None
    if solve is None or process is None:
        return None
    with suppress(psutil.Error):
        if time.time() - solve.began > solve.seconds + _GRACE_S:
            process.kill()
            return None
        if process.memory_info().rss > _MOST_BYTES:
            process.terminate()
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
    """Ask the running solve to stop and keep the best; every tab sees that it was asked."""
    solve = running(folder)
    if solve:
        with suppress(ProcessLookupError):
            os.kill(solve.pid, signal.SIGTERM)
        _note(folder / ".testday", replace(solve, is_stopping=True))


def told(folder: Path) -> list[str]:
    """What the solve has said so far, line by line; what it tells programs is left out."""
    return [line for line in _lines(folder) if not line.startswith("{")]


def progress(folder: Path) -> Told | None:
    """Where the solve stands, as it said last; None where it has not said anything yet."""
    for line in reversed(_lines(folder)):
        with suppress(ValueError, TypeError):
            return Told(**json.loads(line))
    return None


def _lines(folder: Path) -> list[str]:
    try:
        return (folder / ".testday" / TOLD).read_text("utf-8").splitlines()
    except OSError:
        return []


def proposal(folder: Path) -> Path | None:
    """The plan that the last solve made, or None."""
    path = folder / ".testday" / PROPOSAL
    return path if path.exists() else None


def answered(folder: Path, name: str) -> dict[str, object] | None:
    """The JSON document that a solve with `answer` gave, or None."""
    try:
        found = json.loads((folder / ".testday" / name).read_text("utf-8"))
        return found if isinstance(found, dict) else None
    except (OSError, ValueError):
        return None


def forget(folder: Path) -> None:
    """Throw the proposal away; the plan in force stays as it is."""
    for name in (PROPOSAL, RUNNING, TOLD):
        (folder / ".testday" / name).unlink(missing_ok=True)
