"""Kill other deeds at random points: taking a file, backup, restore, withdrawal, migration.

    python tests/benchmarks/record_kills_deeds.py [--kills 25] [--seed 1]

On SQLite and on PostgreSQL. After each kill the record must open, its chain be whole, and the deed, done once
more, give what it gives where nobody is killed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import random
import secrets
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE)]

import sqlalchemy as sa  # noqa: E402
from record_kills import module  # noqa: E402

from planner.record.access import Actor, Role  # noqa: E402
from planner.record.accounts import set_up  # noqa: E402
from planner.record.backup import backup, restore  # noqa: E402
from planner.record.chain import check  # noqa: E402
from planner.record.engine import (  # noqa: E402
    HEAD,
    database_file,
    postgres_engine,
    schema_name,
    sqlite_engine,
    version,
)
from planner.record.removal import remove  # noqa: E402
from planner.record.store import Store, open_store  # noqa: E402
from planner.record.troubles import RecordTrouble  # noqa: E402
from planner.study.model import Study  # noqa: E402

BY = Actor("K9", Role.COORDINATOR)
LINES = 600
GUARDS = {"sqlite": 8, "postgresql": 9}  # triggers
TRIGGERS = {
    "sqlite": "SELECT count(*) FROM sqlite_master WHERE type = 'trigger'",
    "postgresql": "SELECT count(*) FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
    "WHERE NOT t.tgisinternal AND c.relnamespace = current_schema()::regnamespace",
}


@dataclass(frozen=True)
class Place:
    """Where a record stands: SQLite beside the study, or that server (see `record_places.servers`)."""

    study: Study
    home: Path
    server: Any = None

    def open(self) -> Store:
        """The record, by the app's account."""
        return open_store(self.study, url=self.server and self.server.app)

    def owner(self) -> sa.Engine:
        """The tables, by who owns them."""
        if self.server is None:
            return sqlite_engine(database_file(self.study, rehearsed=False))
        schema = schema_name(self.study, rehearsed=False)
        return postgres_engine(self.server.owner, schema)


Deed = Callable[[Place], None]


def take(place: Place) -> None:
    """Take a file of that many lines."""
    with place.open() as store:
        store.take(lines(store), by="K1")


def lines(store: Store) -> list:
    """The lines of the large benchmark that this study asks for."""
    large = module(HERE / "record_large.py")
    return [one for one in large.lines(store, LINES // 2) if one.key.participant in store.study.participants]


def copy(place: Place) -> None:
    """A backup under a new name."""
    with place.open() as store:
        backup(store, place.home / f"copy-{os.getpid()}-{time.time_ns()}.sqlite3", by=BY)


def put_back(place: Place) -> None:
    """The backup put back: over whatever stands there, on a server into an empty record."""
    with place.open() as store:
        restore(store, place.home / "kept.sqlite3", by=BY, anyway=True)


def withdraw(place: Place) -> None:
    """One participant's readings blanked."""
    owner = place.server and place.server.owner
    with place.open() as store:
        remove(store, "ROW-01", by=BY, reason="asked for it", owner_url=owner)


def migrating(place: Place) -> None:
    """A record of the first form brought up to the newest."""
    if place.server is None:
        place.open().close()
    else:
        set_up(place.study, place.server.owner, place.server.account)


def killed(deed: Deed, place: Place, after_s: float) -> bool:
    """Do it in a process of its own, killed after so long; whether it was still at it."""
    child = multiprocessing.get_context("fork").Process(target=_quietly, args=(deed, place))
    child.start()
    child.join(after_s)
    with suppress(ProcessLookupError):
        os.kill(child.pid, signal.SIGKILL)
    child.join()
    return child.exitcode == -signal.SIGKILL


def _quietly(deed: Deed, place: Place) -> None:
    with suppress(RecordTrouble):
        deed(place)


def prepared(place: Place, deed: Deed) -> None:
    """What the deed begins with."""
    if deed is migrating:
        _old_record(place)
        return
    if place.server is not None:
        set_up(place.study, place.server.owner, place.server.account)
    if deed is put_back:
        there = place  # of a server: another record, since a backup goes into an empty one only
        if place.server is not None:
            there = Place(module(HERE / "record_places.py").small(place.home / "other"), place.home)
        take(there)
        with there.open() as store:
            backup(store, place.home / "kept.sqlite3", by=BY)
    elif deed is not take:
        take(place)


def _old_record(place: Place) -> None:
    """A record as the first version made it, holding one reading."""
    database_file(place.study, rehearsed=False).parent.mkdir(exist_ok=True)
    engine = place.owner()
    if place.server is not None:
        with engine.begin() as connection:
            connection.execute(sa.schema.CreateSchema(schema_name(place.study, rehearsed=False)))
    module(HERE.parent / "record" / "test_rig.py").old_record(engine)
    engine.dispose()


def problems_after(deed: Deed, place: Place) -> Iterator[str]:
    """What is wrong after the kill; then after doing it once more."""
    if deed is not migrating:
        with place.open() as store:
            yield from (f"killed: {one.message}" for one in check(store))
    (copy if _is_done(deed, place) else deed)(place)  # either sees to what a killed copy left behind
    with place.open() as store:
        yield from (f"done again: {one.message}" for one in check(store))
        efforts = store.happened().efforts
        if deed in (take, put_back) and len(store.lines()) != len(lines(store)):
            yield f"{len(store.lines())} lines"
        if deed is withdraw and any(one.values for one in efforts if one.key.participant == "ROW-01"):
            yield "a reading of the person withdrawn stands"
        if deed is migrating and (version(store.engine) != HEAD or len(efforts) != 1):
            yield "not migrated"
        if (found := count_guards(store.engine)) != GUARDS[store.engine.dialect.name]:
            yield f"{found} guards"
    if left := [one.name for one in place.home.rglob("*.part")]:
        yield f"left: {left}"


def _is_done(deed: Deed, place: Place) -> bool:
    """Whether a server's record holds the backup already: it goes into an empty record, so not twice."""
    if deed is not put_back or place.server is None:
        return False
    with place.open() as store:
        return bool(store.length())


def count_guards(engine: sa.Engine) -> int:
    """How many triggers guard the record."""
    with engine.connect() as connection:
        return int(connection.exec_driver_sql(TRIGGERS[engine.dialect.name]).scalar_one())


def run(deed: Deed, server: Any, kills: int, draw: random.Random) -> list[str]:
    """Do and kill it so often, each time on a fresh record; print a line; what was wrong."""
    said: list[str] = []
    length_s, hit = 0.0, 0
    for number in range(kills + 1):
        with tempfile.TemporaryDirectory() as folder:
            home = Path(folder)
            study = module(HERE / "record_places.py").small(home)
            place = Place(replace(study, name=f"small_{secrets.token_hex(4)}"), home, server)
            prepared(place, deed)
            if number == 0:  # left alone, to know how long it takes
                began = time.perf_counter()
                killed(deed, place, 60)
                length_s = time.perf_counter() - began
            else:
                hit += killed(deed, place, draw.uniform(0, length_s))
            said += problems_after(deed, place)
    name = "SQLite" if server is None else "PostgreSQL"
    print(
        f"{name}, {deed.__name__} ({length_s:.2f} s): {kills} kills, {hit} before its end, "
        f"{len(said)} problems {sorted(set(said))[:4]}",
        flush=True,
    )
    return said


def main() -> int:
    """A line for each deed; 1 where anything is wrong."""
    words = argparse.ArgumentParser()
    words.add_argument("--kills", type=int, default=25)
    words.add_argument("--seed", type=int, default=1)
    asked = words.parse_args()
    draw, wrong = random.Random(asked.seed), 0
    with tempfile.TemporaryDirectory(prefix="testday-kills-") as folder:
        for server in chain((None,), module(HERE / "record_places.py").servers(Path(folder))):
            for deed in (take, copy, put_back, withdraw, migrating):
                wrong += len(run(deed, server, asked.kills, draw))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
