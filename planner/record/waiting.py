"""A folder in which processes leave requests for whoever writes next, and find their answers."""

from __future__ import annotations

import json
import os
import secrets
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TypeAlias

from planner.record.append import Outcome, Request
from planner.record.events import draft_of
from planner.record.troubles import RecordTrouble

Answer: TypeAlias = tuple[Outcome, ...] | RecordTrouble

_MOST_JOINED = 64
_OLD_S = 300.0


class Queue:
    """The folder; files in it are for their owner alone, and appear whole."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    @contextmanager
    def leave(self, request: Request) -> Iterator[Path]:
        """Leave a request; the path at which its answer will appear. Both are gone afterwards."""
        self.folder.mkdir(mode=0o700, exist_ok=True)
        file = self.folder / f"{time.time_ns():020d}-{secrets.token_hex(8)}.request"
        try:
            _put(file, {"whole": request.whole, "drafts": [draft.as_json() for draft in request.drafts]})
            yield file.with_suffix(".answer")
        finally:
            file.unlink(missing_ok=True)
            file.with_suffix(".answer").unlink(missing_ok=True)

    def waiting(self) -> list[Path]:
        """The requests without an answer, the oldest first, so many as one commit joins."""
        try:
            names = sorted(os.listdir(self.folder))
        except FileNotFoundError:
            return []
        found = set(names)
        for name in names:
            if not name.endswith(".request"):
                self._forget_if_old(self.folder / name)
        ours = [name for name in names if name.endswith(".request")]
        return [self.folder / n for n in ours if n.replace(".request", ".answer") not in found][:_MOST_JOINED]

    def _forget_if_old(self, file: Path) -> None:
        """What a killed process left behind goes after a while."""
        try:
            if time.time() - file.stat().st_mtime > _OLD_S:
                file.unlink(missing_ok=True)
        except FileNotFoundError:
            return

    def answer(self, waiting: Sequence[Path], answers: Sequence[Answer]) -> None:
        """Leave each request its answer, unless its sender gave up or is gone."""
        for request, answer in zip(waiting, answers, strict=True):
            if request.exists():
                _put(request.with_suffix(".answer"), _plain(answer))
            request.unlink(missing_ok=True)


def request_in(file: Path) -> Request:
    """The request in a file; an empty one where its sender took it back."""
    try:
        said = json.loads(file.read_text("utf-8"))
        return Request(tuple(draft_of(one) for one in said["drafts"]), bool(said["whole"]))
    except FileNotFoundError:
        return Request(())
    except (ValueError, KeyError, TypeError):  # cut off by a power failure before anybody was answered
        file.rename(file.with_suffix(".unreadable"))
        return Request(())


def _put(file: Path, said: object) -> None:
    beside = file.with_suffix(f".{os.getpid()}.part")
    with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
        json.dump(said, out)
    os.replace(beside, file)


def _plain(answer: Answer) -> dict[str, object]:
    if isinstance(answer, RecordTrouble):
        fault = answer.faults[0]
        return {"trouble": [answer.code, fault.message, fault.hint]}
    return {"outcomes": [list(one) for one in answer]}


def read_answer(file: Path) -> tuple[Outcome, ...]:
    """The outcomes in an answer; raises the trouble that it tells of."""
    said = json.loads(file.read_text("utf-8"))
    if "trouble" in said:
        raise RecordTrouble(*said["trouble"])
    return tuple(Outcome(*one) for one in said["outcomes"])
