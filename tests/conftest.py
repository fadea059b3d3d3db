"""What all tests share, and an honest list of what could not be run."""

from __future__ import annotations

import os
import shutil
import textwrap
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

ROOT = Path(__file__).parents[1]

# Where everything is run before a change lands, the same examples are drawn each time: what fails there was
# broken by the change. A developer's run draws fresh ones, and finds what nobody thought of.
SLOW = {"deadline": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("same", derandomize=True, **SLOW)
settings.register_profile("fresh", **SLOW)
settings.load_profile("same" if os.environ.get("TESTDAY_ALL") else "fresh")


@pytest.fixture
def protocol_doc(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """The test's own docstring, written to a protocol file."""
    path = tmp_path / "protocol.yaml"
    path.write_text(textwrap.dedent(request.function.__doc__), encoding="utf-8")
    return path


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A fresh copy of the small study: two participants, three people, one week."""
    folder = tmp_path / "small"
    shutil.copytree(ROOT / "tests" / "data" / "small", folder)
    return folder


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """A fresh copy of the demo study with the protocols beside it."""
    shutil.copytree(ROOT / "protocols", tmp_path / "protocols")
    shutil.copytree(ROOT / "demo_study", tmp_path / "demo_study", ignore=shutil.ignore_patterns(".testday"))
    return tmp_path / "demo_study"


def _left_out(config: pytest.Config) -> list[str]:
    reporter = config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    return sorted({f"{report.nodeid}: {report.longrepr[2]}" for report in skipped})


def pytest_terminal_summary(terminalreporter, exitstatus, config):
    """Say what could not be run here, with the Debian line that would bring it."""
    if left_out := _left_out(config):
        terminalreporter.section("could not be run on this machine")
        for line in left_out:
            terminalreporter.write_line(line)


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int):
    """Where everything is to be run, a test left out is a failure."""
    if os.environ.get("TESTDAY_ALL") and _left_out(session.config) and exitstatus == 0:
        session.exitstatus = 1
