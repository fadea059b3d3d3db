"""A study's papers into a folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path
from typing import NamedTuple

from planner.documents.calendars import CalendarFile, calendars
from planner.documents.day_board import day_board
from planner.documents.names import day_name, own_name, run_sheet_name
from planner.documents.run_sheet import run_sheet
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan

Progress = Callable[[int, int], None]


class Job(NamedTuple):
    """One file to be made: its name and what makes its bytes."""

    name: str
    make: Callable[[], bytes]


def write(
    study: Study,
    schedule: Schedule,
    plans: Mapping[str, VisitPlan],
    folder: Path,
    *,
    paper: str = "a4",
    day: date | None = None,
    person: str | None = None,
    participant: str | None = None,
    replaced: Schedule | None = None,
    progress: Progress | None = None,
) -> tuple[Path, ...]:
    """All files that were written, sorted. `day`, `person`, `participant` narrow what is made."""
    folder.mkdir(parents=True, exist_ok=True)
    jobs = list(
        _jobs(
            study, schedule, paper=paper, day=day, person=person, participant=participant, replaced=replaced
        )
    )
    found = []
    with ThreadPoolExecutor(2) as workers:
        for number, (job, made) in enumerate(
            zip(jobs, workers.map(lambda j: j.make(), jobs), strict=True), 1
        ):
            path = folder / job.name
            path.write_bytes(made)
            found.append(path)
            if progress:
                progress(number, len(jobs))
    return tuple(sorted(found))


def _jobs(
    study: Study,
    schedule: Schedule,
    *,
    paper: str,
    day: date | None,
    person: str | None,
    participant: str | None,
    replaced: Schedule | None,
) -> Iterator[Job]:
    for visit in schedule.visits:
        if _is_wanted(visit, day, person, participant):
            yield Job(run_sheet_name(visit), lambda v=visit: run_sheet(study, schedule, v, paper=paper))  # type: ignore[misc]
    for on in schedule.dates:
        if day in (None, on) and person is None and participant is None:
            yield Job(day_name("day-board", on), lambda d=on: day_board(study, schedule, d, paper=paper))  # type: ignore[misc]
    if day is None:
        for made in calendars(study, schedule, replaced=replaced):
            if (person, participant) == (None, None) or made.whose.code in (person, participant):
                yield from _calendar_jobs(made)


def _calendar_jobs(made: CalendarFile) -> Iterator[Job]:
    whose = "_".join(part for part in made.whose if part)
    yield Job(own_name("calendar", whose, "ics"), lambda: made.calendar)
    for number, cancelled in enumerate(made.cancelled, 1):
        yield Job(own_name("calendar-cancel", f"{whose}_{number:02}", "ics"), lambda c=cancelled: c)  # type: ignore[misc]


def _is_wanted(visit: PlacedVisit, day: date | None, person: str | None, participant: str | None) -> bool:
    if day is not None and visit.date != day:
        return False
    if participant is not None and visit.participant != participant:
        return False
    return person is None or any(person in a.staff.values() for a in visit.activities)
