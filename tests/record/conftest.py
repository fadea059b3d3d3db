"""A study to record for, on both databases: SQLite, and a PostgreSQL started from Debian's programs."""

from __future__ import annotations

import os
import pwd
import secrets
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import pytest

from planner.clock import later
from planner.record.efforts_file import read_efforts
from planner.record.store import Store, Taken, open_store
from planner.schedule.model import Activity, Outcome, PlacedVisit, Schedule
from planner.study.model import Study, Visit
from planner.study.read import read_study
from planner.timing.plan import PlannedActivity, VisitPlan

SMALL = Path(__file__).parents[1] / "data" / "small"


@dataclass(frozen=True)
class Server:
    """A running PostgreSQL: `owner` may make schemas, `app` is the account of the app."""

    owner: str
    app: str
    account: str


@pytest.fixture(scope="session")
def _small_study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    folder = tmp_path_factory.mktemp("read") / "small"
    shutil.copytree(SMALL, folder)
    return read_study(folder)


@pytest.fixture
def study(_small_study: Study, tmp_path: Path) -> Study:
    """The small study in a fresh folder."""
    folder = tmp_path / "small"
    shutil.copytree(SMALL, folder)
    return replace(_small_study, folder=folder)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """A PostgreSQL of our own on a free port of this machine, stopped and deleted afterwards."""
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    if not programs:
        pytest.skip("needs PostgreSQL: apt-get install postgresql")
    with tempfile.TemporaryDirectory(prefix="testday-postgres-") as home:
        yield from _served(programs[-1], Path(home))


def _served(programs: Path, home: Path) -> Iterator[Server]:
    user = _ordinary_user(home)
    data, port = home / "data", _free_port()
    _run(user, programs / "initdb", "-D", data, "-U", "owner", "--auth=trust", "-E", "UTF8", "--locale=C")
    options = (
        f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={home} -c logging_collector=off"
    )
    control = programs / "pg_ctl"
    _run(user, control, "-D", data, "-o", options, "-l", home / "log", "-w", "start")
    try:
        owner = f"postgresql://owner@127.0.0.1:{port}/postgres"
        _run(user, programs / "psql", owner, "-c", "CREATE ROLE app LOGIN")
        yield Server(owner, f"postgresql://app@127.0.0.1:{port}/postgres", "app")
    finally:
        _run(user, control, "-D", data, "-m", "immediate", "-w", "stop")


def _ordinary_user(home: Path) -> str | None:
    """PostgreSQL refuses to run as root: then somebody else runs it."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        try:
            entry = pwd.getpwnam(name)
        except KeyError:
            continue
        os.chown(home, entry.pw_uid, entry.pw_gid)
        return name
    return None


def _run(user: str | None, *words: object) -> None:
    done = subprocess.run(
        [str(word) for word in words], user=user, capture_output=True, text=True, timeout=60, cwd="/",
        env={"PATH": os.environ["PATH"], "LC_ALL": "C", "HOME": "/"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def pg_study(study: Study, postgres: Server) -> Study:
    """The study under a name of its own, its two records set up on the server."""
    from planner.record.accounts import set_up

    named = replace(study, name=f"small_{secrets.token_hex(4)}")
    set_up(named, postgres.owner, postgres.account)
    return named


FIRST = {"spirometer": "S1", "mouth-pressure meter": "M1", "rowing ergometer": "E1"}  # of each class
Opener = Callable[..., Store]


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def opened(request: pytest.FixtureRequest) -> Iterator[Opener]:
    """Opens the study's record on either database, as often as wanted."""
    url = None
    study = request.getfixturevalue("study")
    if request.param == "postgres":
        study = request.getfixturevalue("pg_study")
        url = request.getfixturevalue("postgres").app
    stores: list[Store] = []

    def open_it(*, rehearsed: bool = False) -> Store:
        stores.append(open_store(study, rehearsed=rehearsed, url=url))
        return stores[-1]

    yield open_it
    for one in stores:
        one.close()


@pytest.fixture
def store(opened: Opener) -> Store:
    """The study's real record, empty, on either database."""
    return opened()


@pytest.fixture
def owner_url(request: pytest.FixtureRequest, store: Store) -> str | None:
    """The URL of the account that owns the tables; None on SQLite."""
    return None if store.path else request.getfixturevalue("postgres").owner


@pytest.fixture(scope="session")
def plans(_small_study: Study):
    """The plan of one visit for each protocol."""
    from planner.schedule.plans import visit_plans

    return visit_plans(_small_study)


@pytest.fixture
def schedule(study: Study, plans) -> Schedule:
    """Every visit at 9 o'clock on a day of its own, alone in the laboratory, as its plan lays it out."""
    visits = []
    for number, visit in enumerate(one for asked in study.asked.values() for one in asked):
        start = datetime(2027, 3, 1 + number, 9, 0, tzinfo=study.zone)
        visits.append(alone(visit, plans[visit.protocol], start))
    made = datetime(2027, 2, 1, 12, 0, tzinfo=study.zone)
    return Schedule(
        study.name, 1, None, study.fingerprint, made, Outcome.FEASIBLE, len(visits), (), tuple(visits)
    )


def alone(visit: Visit, plan: VisitPlan, start: datetime) -> PlacedVisit:
    """The visit on the clock from that start, with nobody else in the laboratory."""
    activities = [_on_the_clock(one, later(start, plan.starts_s[one.index])) for one in plan.activities]
    activities.sort(key=lambda one: one.start.timestamp())
    return PlacedVisit(visit.participant, visit.kind, visit.number, visit.condition, tuple(activities))


def _on_the_clock(one: PlannedActivity, start: datetime) -> Activity:
    end = later(start, one.length_s)
    first = later(start, one.prepare_s) if one.manoeuvre else None
    return Activity(
        one.step,
        one.at_s,
        one.manoeuvre,
        tuple(FIRST[name] for name in one.rigs),
        {},
        start,
        first,
        end,
        end,
        one.planned_efforts,
    )


@pytest.fixture
def two_efforts() -> str:
    """An efforts file of five lines: two efforts before rowing, and the bout."""
    return (
        "participant,visit,step,at,manoeuvre,effort,started,reading,value,unit,acceptable,note\n"
        "ROW-01,rowing/1,before,,fvc,1,2027-03-01T09:00:00,FVC,4.80,L,,\n"
        "ROW-01,rowing/1,before,,fvc,1,2027-03-01T09:00:00,FEV1,3.90,L,yes,\n"
        "ROW-01,rowing/1,before,,fvc,2,2027-03-01T09:00:50,FVC,4.70,L,no,cough\n"
        "ROW-01,rowing/1,row,,,,2027-03-01T09:20:00,start,,,,\n"
        "ROW-01,rowing/1,row,,,,2027-03-01T09:32:00,end,,,,\n"
    )


@pytest.fixture
def take() -> Callable[[Store, str], Taken]:
    """Takes a text as an efforts file, handed in by K1."""

    def take_it(store: Store, text: str) -> Taken:
        path = store.study.folder / "efforts.csv"
        path.write_text(text, encoding="utf-8")
        return store.take(read_efforts(path, store.study), by="K1")

    return take_it
