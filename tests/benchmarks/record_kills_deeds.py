"""Kill other deeds at random points: taking a file, backup, restore, withdrawal, migration; on SQLite.

    python tests/benchmarks/record_kills_deeds.py [--kills 25] [--seed 1]

After each kill the record must open, its chain be whole, and the deed, done once more, give what it gives
where nobody is killed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import replace
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE)]

from record_kills import module  # noqa: E402

from planner.record.access import Actor, Role  # noqa: E402
from planner.record.backup import backup, restore  # noqa: E402
from planner.record.chain import check  # noqa: E402
from planner.record.engine import database_file, version  # noqa: E402
from planner.record.removal import remove  # noqa: E402
from planner.record.store import open_store  # noqa: E402
from planner.record.troubles import RecordTrouble  # noqa: E402
from planner.study.model import Study  # noqa: E402

BY = Actor("K9", Role.COORDINATOR)
LINES = 600
Deed = Callable[[Study, Path], None]


def take(study: Study, home: Path) -> None:
    """Take a file of that many lines."""
    with open_store(study) as store:
        store.take(lines(store), by="K1")


def lines(store) -> list:
    """The lines of the large benchmark that this study asks for."""
    large = module(HERE / "record_large.py")
    return [one for one in large.lines(store, LINES // 2) if one.key.participant in store.study.participants]


def copy(study: Study, home: Path) -> None:
    """A backup under a new name."""
    with open_store(study) as store:
        backup(store, home / f"copy-{os.getpid()}-{time.time_ns()}.sqlite3", by=BY)


def put_back(study: Study, home: Path) -> None:
    """The backup put back over whatever stands there."""
    with open_store(study) as store:
        restore(store, home / "kept.sqlite3", by=BY, anyway=True)


def withdraw(study: Study, home: Path) -> None:
    """One participant's readings blanked."""
    with open_store(study) as store:
        remove(store, "ROW-01", by=BY, reason="asked for it")


def migrate(study: Study, home: Path) -> None:
    """A record of the first form brought up to the newest."""
    open_store(study).close()


def killed(deed: Deed, study: Study, home: Path, after_s: float) -> None:
    """Do it in a process of its own, killed after so long."""
    child = multiprocessing.get_context("fork").Process(target=_quietly, args=(deed, study, home))
    child.start()
    time.sleep(after_s)
    with suppress(ProcessLookupError):
        os.kill(child.pid, signal.SIGKILL)
    child.join()


def _quietly(deed: Deed, study: Study, home: Path) -> None:
    with suppress(RecordTrouble):
        deed(study, home)


def prepared(study: Study, home: Path, name: str) -> None:
    """What the deed begins with."""
    old = module(HERE.parent / "record" / "test_rig.py")._old_record
    if name == "migrate":
        database_file(study, rehearsed=False).parent.mkdir(exist_ok=True)
        old(database_file(study, rehearsed=False))
    elif name != "take":
        take(study, home)
        if name == "put_back":
            with open_store(study) as store:
                backup(store, home / "kept.sqlite3", by=BY)


def problems_after(deed: Deed, study: Study, home: Path) -> list[str]:
    """What is wrong after the kill; then after doing it once more."""
    found = []
    if deed is not migrate:
        with open_store(study) as store:
            found += [f"killed: {one.message}" for one in check(store)]
    deed(study, home)
    with open_store(study) as store:
        found += [f"done again: {one.message}" for one in check(store)]
        if deed is take and len(store.lines()) != len(lines(store)):
            found.append(f"{len(store.lines())} lines")
        if (
            deed is withdraw
            and store.happened().efforts
            and any(one.values for one in store.happened().efforts if one.key.participant == "ROW-01")
        ):
            found.append("a reading of the person withdrawn stands")
        if deed is migrate and version(store.engine) != "0002":
            found.append("not migrated")
    left = [one.name for one in home.rglob("*.part")]
    with closing(sqlite3.connect(database_file(study, rehearsed=False))) as raw:
        guards = raw.execute("SELECT count(*) FROM sqlite_master WHERE type = 'trigger'").fetchone()[0]
    return found + ([f"{guards} guards"] if guards != 8 else []) + ([f"left: {left}"] if left else [])


def main() -> int:
    """A line for each deed; 1 where anything is wrong."""
    words = argparse.ArgumentParser()
    words.add_argument("--kills", type=int, default=25)
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    draw, wrong = random.Random(asked.seed), 0
    for deed in (take, copy, put_back, withdraw, migrate):
        said: list[str] = []
        for _ in range(asked.kills):
            with tempfile.TemporaryDirectory() as folder:
                home = Path(folder)
                study = module(HERE / "record_places.py").small(home)
                study = replace(study, folder=study.folder)
                prepared(study, home, deed.__name__)
                killed(deed, study, home, draw.uniform(0, 0.4))
                said += problems_after(deed, study, home)
                shutil.rmtree(study.folder)
        wrong += len(said)
        print(
            f"{deed.__name__}: {asked.kills} kills, {len(said)} problems {sorted(set(said))[:4]}", flush=True
        )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
