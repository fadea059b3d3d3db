"""Where the record's benchmarks record: SQLite in a fresh folder, and a PostgreSQL of their own."""

from __future__ import annotations

import importlib.util
import shutil
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from planner.record.store import Store, open_store
from planner.study.model import Study
from planner.study.read import read_study

TESTS = Path(__file__).parents[1]
Open = Callable[[], Store]


def small(folder: Path) -> Study:
    """The small study of the tests, copied."""
    shutil.copytree(TESTS / "data" / "small", folder / "small")
    return read_study(folder / "small")


def both(folder: Path) -> Iterator[tuple[str, Open]]:
    """Each database by name, with what opens a fresh record there."""
    study = small(folder)
    yield "SQLite", lambda: open_store(study)
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    if not programs:
        print("PostgreSQL: not run, it needs: apt-get install postgresql")
        return
    yield from _postgres(folder, replace(study, name="benchmark"), programs[-1])


def _postgres(folder: Path, study: Study, programs: Path) -> Iterator[tuple[str, Open]]:
    for url in served(folder, study, programs):
        yield "PostgreSQL", partial(open_store, study, url=url)


def served(folder: Path, study: Study, programs: Path | None = None) -> Iterator[str]:
    """A PostgreSQL of our own with that study's record set up: the URL of the app's account."""
    from planner.record.accounts import set_up

    for server in servers(folder, programs):
        set_up(study, server.owner, server.account)
        yield server.app


def servers(folder: Path, programs: Path | None = None) -> Iterator[Any]:
    """A PostgreSQL of our own, as the tests start it: URLs of its `owner` and `app`, the app's `account`."""
    programs = programs or sorted(Path("/usr/lib/postgresql").glob("*/bin"))[-1]
    spec = importlib.util.spec_from_file_location("record_conftest", TESTS / "record" / "conftest.py")
    assert spec is not None
    assert spec.loader is not None
    shared = importlib.util.module_from_spec(spec)
    sys.modules["record_conftest"] = shared
    spec.loader.exec_module(shared)
    home = folder / "postgres"
    home.mkdir()
    for above in (folder, home):
        above.chmod(0o755)
    yield from shared._served(programs, home)
