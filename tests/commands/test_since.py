"""The seconds of a command count from the start of its program, and for one worker by work alone."""

from __future__ import annotations

import threading
import time

import pytest

from planner.commands import since


def test_a_program_counts_from_its_start(monkeypatch: pytest.MonkeyPatch):
    program = threading.Event()
    monkeypatch.setattr(since, "_is_program", program)
    assert since.seconds_left(60, 2) == 60  # called from within another program
    since.run_as_program()
    now = time.monotonic()
    monkeypatch.setattr(since, "_BEGAN", now - 20)
    monkeypatch.setattr(time, "monotonic", lambda: now)
    assert since.seconds_left(60, 2) == pytest.approx(40)
    assert since.seconds_left(5, 2) == since.LEAST_S
    assert since.seconds_left(60, 1) == 60
