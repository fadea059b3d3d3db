"""A process that is killed while efforts are entered: none acknowledged is lost, none is doubled."""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from multiprocessing.connection import Connection

from planner.clock import later
from planner.record.chain import check
from planner.record.drafts import Hand, line_draft
from planner.record.effort import VisitKey
from planner.record.events import Draft
from planner.record.lines import Line
from planner.record.store import Store
from planner.study.model import Study

Open = Callable[[], Store]
WRITERS = 3
KILLS = 20


def drafts_of(study: Study, writer: int, number: int) -> list[Draft]:
    """An effort of two readings; the same number gives the same tokens, as when a page sends again."""
    start = later(datetime(2027, 3, 1, 9, 0, tzinfo=study.zone), number)
    key = VisitKey(f"ROW-{writer:02d}", "rowing", 1 + number // 100)
    one = Line(key, "before", None, "fvc", 1 + number % 100, "FVC", start, Decimal("4.80"), "L")
    lines = [one, replace(one, reading="FEV1", value=Decimal("3.90"))]
    return [line_draft(line, Hand("K1"), f"{writer}/{number}/{line.reading}") for line in lines]


def enter(open_it: Open, writer: int, first: int, acknowledged: Connection) -> None:
    """Enter effort after effort until killed; each is reported once it is acknowledged."""
    store = open_it()
    number = first
    while True:
        outcomes = store.append(drafts_of(store.study, writer, number), whole=True)
        assert all(outcome.what != "refused" for outcome in outcomes)
        acknowledged.send(number)
        number += 1


class Entering:
    """One writer: a process that may be killed and begun again where it was."""

    def __init__(self, open_it: Open, writer: int) -> None:
        self.open_it, self.writer, self.next, self.seen = open_it, writer, 0, set[int]()
        self.begin()

    def begin(self) -> None:
        context = multiprocessing.get_context("fork")
        self.ours, theirs = context.Pipe(duplex=False)
        self.process = context.Process(
            target=enter, args=(self.open_it, self.writer, self.next, theirs), daemon=True
        )
        self.process.start()
        theirs.close()

    def collect(self) -> None:
        while self.ours.poll():
            try:
                self.seen.add(self.ours.recv())
            except (EOFError, OSError):
                break
        self.next = max(self.seen, default=-1) + 1

    def kill(self) -> None:
        assert self.process.pid is not None
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.join(10)
        self.collect()

    def wait_for_more(self) -> None:
        until, before = time.monotonic() + 20, len(self.seen)
        while len(self.seen) == before:
            assert time.monotonic() < until, "this writer has come to a stop"
            time.sleep(0.001)
            self.collect()


def killed_at_random(open_it: Open, kills: int, seed: int = 1) -> dict[str, int]:
    """Kill one of three writers again and again; what was acknowledged, lost, doubled, and does not fit."""
    draw = random.Random(seed)
    writers = [Entering(open_it, number) for number in range(1, WRITERS + 1)]
    for _ in range(kills):
        chosen = draw.choice(writers)
        chosen.wait_for_more()
        time.sleep(draw.uniform(0, 0.05))
        chosen.kill()
        chosen.begin()
    for writer in writers:
        writer.wait_for_more()
        writer.kill()
    return judged(open_it(), writers)


def judged(store: Store, writers: list[Entering]) -> dict[str, int]:
    """Counts of what the record must hold against what it holds."""
    found = Counter((line.key, line.effort, line.reading) for line in store.lines())
    acknowledged = {
        (VisitKey(draft.participant, draft.visit, draft.number), draft.effort, draft.reading)
        for writer in writers
        for number in writer.seen
        for draft in drafts_of(store.study, writer.writer, number)
    }
    halves = Counter((key, effort) for key, effort, _ in found)
    return {
        "acknowledged": len(acknowledged),
        "lost": len(acknowledged - set(found)),
        "doubled": sum(count > 1 for count in found.values()),
        "half": sum(count != 2 for count in halves.values()),
        "problems": len(check(store)),
    }


def test_nothing_acknowledged_is_lost_or_doubled(opened):
    found = killed_at_random(opened, KILLS)
    assert found.pop("acknowledged") > KILLS
    assert found == {"lost": 0, "doubled": 0, "half": 0, "problems": 0}


def test_the_judge_sees_what_is_lost(opened):
    """The check itself can fail: an effort that was never recorded counts as lost."""

    class Claims:
        writer, seen = 1, {5}

    assert judged(opened(), [Claims()])["lost"] == 2
