"""One writer at a time, who joins what others wait to record into one commit.

Eight stations that each commit for themselves wait for one another's disk writes, and the unluckiest
starves. Here a request is left in a queue folder; whoever gets the lock records every request that
waits there in one transaction and leaves each its answer. If that process dies, the system frees
its lock, its transaction is undone or done as a whole, and the next one goes on: tokens keep a
request from being recorded twice.
"""

from __future__ import annotations

import json
import os
import secrets
import time
from collections.abc import Sequence
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from planner.record.append import Outcome, append
from planner.record.events import Draft, draft_of
from planner.record.lock import Lock
from planner.record.troubles import CAUGHT, RecordTrouble, in_words

PATIENCE_S = 30.0
_PAUSE_S = 0.001
_MOST_JOINED = 64
_OLD_S = 300.0


class Writer:
    """Records drafts for all processes of this machine that share one study."""

    def __init__(self, engine: Engine, folder: Path, *, rehearsed: bool) -> None:
        name = "rehearsal" if rehearsed else "record"
        self.engine = engine
        self.queue = folder / f"{name}.queue"
        self.lock = folder / f"{name}.lock"

    def send(self, drafts: Sequence[Draft], patience_s: float = PATIENCE_S) -> tuple[Outcome, ...]:
        """Record the drafts; what comes back is on the disk. RecordTrouble where it is not."""
        if not drafts:
            return ()
        try:
            with Lock(self.lock) as lock:
                if lock.try_now():
                    return self._record_mine(drafts)
                return self._wait(lock, drafts, patience_s)
        except CAUGHT as error:
            raise in_words(error) from error

    def _record_mine(self, drafts: Sequence[Draft]) -> tuple[Outcome, ...]:
        """Nobody was before us: our own request, with whatever came to wait meanwhile."""
        waiting = self._waiting()
        if not waiting:
            return self._commit([drafts])[0]
        mine, *others = self._commit_joined([drafts, *(drafts_in(file) for file in waiting)])
        self._answer(waiting, others)
        if isinstance(mine, RecordTrouble):
            raise mine
        return mine

    def _wait(self, lock: Lock, drafts: Sequence[Draft], patience_s: float) -> tuple[Outcome, ...]:
        request = self._leave(drafts)
        answer = request.with_suffix(".answer")
        until = time.monotonic() + patience_s
        try:
            while time.monotonic() < until:
                if answer.exists():
                    return _read_answer(answer)
                if lock.try_now():
                    self._serve()
                    lock.release()
                    continue
                time.sleep(_PAUSE_S)
        finally:
            request.unlink(missing_ok=True)
            answer.unlink(missing_ok=True)
        words = f"another program has held the record for {patience_s:.0f} s: this was not recorded"
        raise RecordTrouble("locked", words, "Close it, then send it again.")

    def _leave(self, drafts: Sequence[Draft]) -> Path:
        """Put the request where the writer looks; it appears there whole."""
        self.queue.mkdir(mode=0o700, exist_ok=True)
        request = self.queue / f"{time.time_ns():020d}-{secrets.token_hex(8)}.request"
        _put(request, json.dumps([draft.as_json() for draft in drafts]))
        return request

    def _waiting(self) -> list[Path]:
        try:
            names = sorted(os.listdir(self.queue))
        except FileNotFoundError:
            return []
        for name in names:
            self._forget_if_old(self.queue / name)
        ours = [name for name in names if name.endswith(".request")]
        return [self.queue / name for name in ours if name.replace(".request", ".answer") not in names][
            :_MOST_JOINED
        ]

    def _forget_if_old(self, file: Path) -> None:
        """What a killed process left behind goes after a while."""
        if file.suffix == ".request":
            return  # it was sent, so it is still recorded
        try:
            if time.time() - file.stat().st_mtime > _OLD_S:
                file.unlink(missing_ok=True)
        except FileNotFoundError:
            return

    def _serve(self) -> None:
        """Record every request that waits, in one commit, and answer each."""
        waiting = self._waiting()
        if waiting:
            self._answer(waiting, self._commit_joined([drafts_in(file) for file in waiting]))

    def _answer(
        self, waiting: Sequence[Path], outcomes: Sequence[tuple[Outcome, ...] | RecordTrouble]
    ) -> None:
        for request, outcome in zip(waiting, outcomes, strict=True):
            if request.exists():  # else its sender gave up or is gone
                _put(request.with_suffix(".answer"), json.dumps(_answer_of(outcome)))
            request.unlink(missing_ok=True)

    def _commit_joined(
        self, requests: Sequence[Sequence[Draft]]
    ) -> list[tuple[Outcome, ...] | RecordTrouble]:
        """All in one commit; where that fails, each for itself, so that one cannot spoil another's."""
        try:
            return list(self._commit(requests))
        except CAUGHT:
            return [self._alone(drafts) for drafts in requests]

    def _alone(self, drafts: Sequence[Draft]) -> tuple[Outcome, ...] | RecordTrouble:
        try:
            return self._commit([drafts])[0]
        except CAUGHT as error:
            return in_words(error)

    def _commit(self, requests: Sequence[Sequence[Draft]]) -> list[tuple[Outcome, ...]]:
        together = [draft for drafts in requests for draft in drafts]
        with self.engine.begin() as connection:
            _one_writer(connection)
            outcomes = append(connection, together)
        found, start = [], 0
        for drafts in requests:
            found.append(outcomes[start : start + len(drafts)])
            start += len(drafts)
        return found


def _one_writer(connection: Connection) -> None:
    """On PostgreSQL other machines may write as well: they take turns, in order of asking."""
    if connection.dialect.name == "postgresql":
        connection.execute(sa.text("SELECT pg_advisory_xact_lock(hashtext(current_schema()))"))


def drafts_in(request: Path) -> list[Draft]:
    """The drafts of a request file; none where its sender took it back."""
    try:
        return [draft_of(one) for one in json.loads(request.read_text("utf-8"))]
    except FileNotFoundError:
        return []
    except (ValueError, KeyError, TypeError):  # cut off by a power failure before anybody was answered
        request.rename(request.with_suffix(".unreadable"))
        return []


def _put(file: Path, text: str) -> None:
    beside = file.with_suffix(f".{os.getpid()}.part")
    with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
        out.write(text)
    os.replace(beside, file)


def _answer_of(outcome: tuple[Outcome, ...] | RecordTrouble) -> dict[str, object]:
    if isinstance(outcome, RecordTrouble):
        fault = outcome.faults[0]
        return {"trouble": [outcome.code, fault.message, fault.hint]}
    return {"outcomes": [list(one) for one in outcome]}


def _read_answer(answer: Path) -> tuple[Outcome, ...]:
    said = json.loads(answer.read_text("utf-8"))
    if "trouble" in said:
        raise RecordTrouble(*said["trouble"])
    return tuple(Outcome(*one) for one in said["outcomes"])
