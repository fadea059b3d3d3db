"""One writer at a time, who joins what others wait to record into one commit.

Eight stations that each commit for themselves wait for one another's disk writes, and the unluckiest
starves. Here a request is left in a queue folder; whoever gets the lock records every request that
waits there in one transaction and leaves each its answer. If that process dies, the system frees
its lock, its transaction is undone or done as a whole, and the next one goes on: tokens keep a
request from being recorded twice.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy.engine import Connection, Engine

from planner.record.append import Head, Outcome, Request, append
from planner.record.caught import CAUGHT, is_lost
from planner.record.events import Draft
from planner.record.lock import Lock
from planner.record.prepare import try_out
from planner.record.recall import TURN
from planner.record.troubles import RecordTrouble, in_words
from planner.record.waiting import Answer, Queue, read_answer, request_in

PATIENCE_S = 30.0
_PAUSE_S = 0.0005
_LONGEST_PAUSE_S = 0.005


class Writer:
    """Records drafts for all processes of this machine that share one study."""

    def __init__(self, engine: Engine, folder: Path, *, rehearsed: bool) -> None:
        name = "rehearsal" if rehearsed else "record"
        self.engine = engine
        self.clock: Callable[[], datetime] = lambda: datetime.now(UTC)
        self.queue = Queue(folder / f"{name}.queue")
        self.lock = folder / f"{name}.lock"
        self.head = folder / f"{name}.head"

    def send(
        self, drafts: Sequence[Draft], *, whole: bool = False, patience_s: float = PATIENCE_S
    ) -> tuple[Outcome, ...]:
        """Record the drafts (`whole`: all or none); what comes back is on the disk, else RecordTrouble."""
        if not drafts:
            return ()
        mine = Request(tuple(drafts), whole)
        try:
            with Lock(self.lock) as lock:
                return self._record(mine) if lock.try_now() else self._wait(lock, mine, patience_s)
        except CAUGHT as error:
            raise in_words(error) from error

    def prepare(self) -> None:
        """Make the first effort as quick as the next ones; where somebody records now, it is left at that."""
        with suppress(*CAUGHT), Lock(self.lock) as lock:  # trouble is told when something is recorded
            if lock.try_now():
                try_out(self.engine, self.clock())

    def _record(self, mine: Request) -> tuple[Outcome, ...]:
        """Nobody was before us: our own request, with whatever has come to wait."""
        waiting = self.queue.waiting()
        answer, *others = self._commit_joined([mine, *(request_in(file) for file in waiting)])
        self.queue.answer(waiting, others)
        if isinstance(answer, RecordTrouble):
            raise answer
        return answer

    def _wait(self, lock: Lock, mine: Request, patience_s: float) -> tuple[Outcome, ...]:
        with self.queue.leave(mine) as answer:
            until, pause_s = time.monotonic() + patience_s, _PAUSE_S
            while time.monotonic() < until:
                if answer.exists():
                    return read_answer(answer)
                if lock.try_now():
                    self._serve()
                    lock.release()
                else:
                    time.sleep(pause_s)
                    pause_s = min(1.5 * pause_s, _LONGEST_PAUSE_S)
        words = f"another program has held the record for {patience_s:.0f} s: this was not recorded"
        raise RecordTrouble("locked", words, "Close it, then send it again.")

    def _serve(self) -> None:
        """Record every request that waits, in one commit, and answer each."""
        if waiting := self.queue.waiting():
            self.queue.answer(waiting, self._commit_joined([request_in(file) for file in waiting]))

    def _commit_joined(self, requests: Sequence[Request]) -> list[Answer]:
        """All in one commit; where that fails, each for itself, so that one cannot spoil another's."""
        if len(requests) > 1:
            try:
                return list(self._commit(requests))
            except CAUGHT:
                pass
        return [self._alone(request) for request in requests]

    def _alone(self, request: Request, *, again: bool = True) -> Answer:
        """On its own; again where the connection was lost: what was recorded then is found by its token."""
        try:
            return self._commit([request])[0]
        except CAUGHT as error:
            return self._alone(request, again=False) if again and is_lost(error) else in_words(error)

    def _commit(self, requests: Sequence[Request]) -> list[tuple[Outcome, ...]]:
        with self.engine.begin() as connection:
            outcomes, newest = append(connection, requests, self.clock())
        if newest:
            self.note_head(newest)
        return outcomes

    def note_head(self, newest: Head) -> None:
        """Note beside the record how far it has come, so that events cut off its end are missed."""
        with open(os.open(self.head, os.O_WRONLY | os.O_CREAT, 0o600), "wb", buffering=0) as out:
            out.write(f"{newest.seq:012d} {newest.hash}\n".encode())

    @contextmanager
    def alone(self, patience_s: float = PATIENCE_S) -> Iterator[None]:
        """Keep every other writer of this machine out for a while."""
        with Lock(self.lock) as lock:
            until = time.monotonic() + patience_s
            while not lock.try_now():
                if time.monotonic() > until:
                    raise RecordTrouble(
                        "locked", "another program holds the record", "Close it, then try again."
                    )
                time.sleep(_PAUSE_S)
            yield


def one_writer(connection: Connection) -> None:
    """On PostgreSQL other machines may write as well: they take turns, in order of asking."""
    if connection.dialect.name == "postgresql":
        connection.execute(TURN)
