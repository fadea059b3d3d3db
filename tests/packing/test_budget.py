"""Time given out: by the clock for several workers, by work done for one."""

from __future__ import annotations

import time

import pytest

from planner.packing.budget import COUNTED, LATEST, Budget


def test_one_worker_goes_by_work_and_not_by_the_clock(monkeypatch: pytest.MonkeyPatch):
    budget = Budget.of(100, 1, None, None)
    before = budget.left_s
    assert before == 100 * COUNTED
    later = time.monotonic() + 50
    monkeypatch.setattr(time, "monotonic", lambda: later)
    assert budget.left_s == before
    budget.spend(30)
    assert budget.left_s == before - 30
    assert budget.part(10).left_s == 10


def test_one_worker_still_ends_some_time(monkeypatch: pytest.MonkeyPatch):
    budget = Budget.of(100, 1, None, None)
    assert not budget.is_over
    later = time.monotonic() + LATEST * 100 + 1
    monkeypatch.setattr(time, "monotonic", lambda: later)
    assert budget.is_over
    assert budget.stops is not None
    assert budget.stops()


def test_two_workers_go_by_the_clock(monkeypatch: pytest.MonkeyPatch):
    budget = Budget.of(100, 2, None, None)
    budget.spend(500)
    assert budget.left_s > 99
    later = time.monotonic() + 60
    monkeypatch.setattr(time, "monotonic", lambda: later)
    assert budget.left_s == pytest.approx(40, abs=1)
    assert budget.part(90).left_s <= 40


def test_a_stop_ends_every_part():
    budget = Budget.of(100, 2, None, lambda: True)
    assert budget.part(10).is_over
