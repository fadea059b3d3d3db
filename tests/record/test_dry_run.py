"""A dry run's clock, and what made-up people have done by then."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from planner.clock import later
from planner.record.dry_run import FILE, DryRun, begin, dry_run, end, happened_by, is_dry
from planner.record.rehearse import rehearse

REAL = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(("speed", "gone"), [(1, 60), (60, 3600), (0.5, 30)])
def test_the_played_clock_runs_at_its_speed(study, speed: float, gone: int):
    at = datetime(2027, 3, 2, 8, 0, tzinfo=study.zone)
    run = DryRun(REAL, at, speed)
    assert run.now(REAL) == at
    assert run.now(later(REAL, 60)) == later(at, gone)
    assert run.now(REAL).tzinfo is study.zone


def test_a_dry_run_holds_until_it_is_ended(study):
    at = datetime(2027, 3, 2, 8, 0, tzinfo=study.zone)
    assert dry_run(study) is None
    assert not is_dry(study.folder)
    begin(study, DryRun(REAL, at, 10.0, True, 3))
    assert dry_run(study) == DryRun(REAL, at, 10.0, True, 3)
    assert is_dry(study.folder)
    end(study)
    end(study)
    assert not is_dry(study.folder)


def test_a_file_that_cannot_be_read_is_no_clock(study):
    begin(study, DryRun(REAL, REAL.astimezone(study.zone)))
    (study.folder / ".testday" / FILE).write_text("{}", "utf-8")
    assert dry_run(study) is None
    assert is_dry(study.folder)  # the mark stays: nothing made up may reach the record


def test_readings_come_at_the_end_of_their_effort_and_nothing_early(study, schedule, plans):
    lines = rehearse(study, replace(schedule, visits=schedule.visits[:1]), plans, seed=1)
    effort = next(line for line in lines if line.manoeuvre == "fvc")
    assert effort not in happened_by(lines, study, later(effort.started, 19))
    assert effort in happened_by(lines, study, later(effort.started, 20))
    assert happened_by(lines, study, later(lines[0].started, -1)) == ()
    assert set(happened_by(lines, study, later(lines[-1].started, 60))) == set(lines)
