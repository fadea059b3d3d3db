"""Which files there are to be made, and what makes each of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import partial
from typing import NamedTuple

from planner.documents.busy import Span, spans
from planner.documents.calendars import CalendarFile, Whose, calendars, everybody
from planner.documents.day_board import day_board
from planner.documents.day_sheets import Of, day_sheets
from planner.documents.ethics import ethics_text
from planner.documents.kit import kit_list
from planner.documents.leaflet import leaflet
from planner.documents.names import day_name, own_name, run_sheet_name
from planner.documents.run_sheet import fitted_run_sheet
from planner.documents.shown import PAPERS, date_words, placed_words, protocol_of
from planner.documents.workbook import workbook
from planner.schedule.model import PlacedVisit, Schedule
from planner.study.model import Study
from planner.timing.plan import VisitPlan


class Kind(StrEnum):
    """What sort of paper a file is, as people call it."""

    RUN_SHEET = "Run sheets"
    DAY_BOARD = "Day boards"
    PERSON_SHEET = "Sheets for staff"
    RIG_SHEET = "Sheets for devices"
    LEAFLET = "Leaflets"
    CALENDAR = "Calendars"
    KIT_LIST = "Kit lists"
    WORKBOOK = "Workbook of the plan"
    ETHICS = "Ethics text"

    @property
    def in_address(self) -> str:
        """How an address names it: `run-sheet`, `ethics`."""
        return self.name.lower().replace("_", "-")


WHOLE = "the whole study"
_SHEETS = {Of.PERSON: Kind.PERSON_SHEET, Of.RIG: Kind.RIG_SHEET}
_WHOSE = {
    "all": "everything",
    "participant": "{code}",
    "person": "staff member {code}",
    "rig": "device {code}",
}


class Job(NamedTuple):
    """One file: its name, what makes its bytes, its kind, and whose or for when it is, in words."""

    name: str
    make: Callable[[], bytes]
    kind: Kind
    words: str


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is asked for; None: all."""

    day: date | None = None
    person: str | None = None
    participant: str | None = None

    @property
    def is_everything(self) -> bool:
        """Whether nothing narrows it."""
        return (self.day, self.person, self.participant) == (None, None, None)

    def has(self, visit: PlacedVisit) -> bool:
        """Whether the visit is asked for."""
        if self.day is not None and visit.date != self.day:
            return False
        if self.participant is not None and visit.participant != self.participant:
            return False
        return self.person is None or self.person in _people_of(visit)


def _people_of(visit: PlacedVisit) -> set[str]:
    found: set[str] = set()
    for activity in visit.activities:
        found |= {*activity.staff.values(), *activity.clear_staff.values()}
        found |= set(activity.watch.staff.values()) if activity.watch else set()
    return found


@dataclass(frozen=True)
class _Making:
    study: Study
    schedule: Schedule
    plans: Mapping[str, VisitPlan]
    wanted: Wanted
    paper: str
    replaced: Schedule | None
    spans: tuple[Span, ...]


def jobs(
    study: Study,
    schedule: Schedule,
    plans: Mapping[str, VisitPlan],
    wanted: Wanted,
    *,
    paper: str,
    replaced: Schedule | None = None,
) -> Iterator[Job]:
    """Every file that is wanted; ValueError for an unknown paper."""
    if paper not in PAPERS:
        raise ValueError(f"{paper!r} is no paper; choose one of {', '.join(PAPERS)}")
    making = _Making(study, schedule, plans, wanted, paper, replaced, spans(study, schedule))
    yield from _run_sheets(making)
    if wanted.participant is None:
        yield from _days(making)
    if wanted.person is None and wanted.day is None:
        yield from _leaflets(making)
    if wanted.day is None:
        yield from _calendars(making)
    if wanted.is_everything:
        yield Job("kit-list.xlsx", partial(kit_list, study, schedule), Kind.KIT_LIST, WHOLE)
        yield from study_jobs(study, schedule)


def study_jobs(study: Study, schedule: Schedule) -> Iterator[Job]:
    """The files that are about the whole study, whatever day is chosen."""
    yield Job("workbook.xlsx", partial(workbook, study, schedule), Kind.WORKBOOK, WHOLE)
    yield Job("ethics-text.docx", partial(ethics_text, study, schedule), Kind.ETHICS, WHOLE)


def _run_sheets(making: _Making) -> Iterator[Job]:
    levels: dict[str, int] = {}

    def make(visit: PlacedVisit) -> bytes:
        """Visits of one protocol need the same setting: what the first found, the others start from."""
        key = protocol_of(making.study, visit).file
        start = levels.get(key, 0)
        fitted = fitted_run_sheet(making.study, making.schedule, visit, paper=making.paper, level=start)
        levels[key] = max(levels.get(key, 0), fitted.level)
        return fitted.pdf

    for visit in sorted(making.schedule.visits, key=lambda v: (v.start.timestamp(), v.participant)):
        if making.wanted.has(visit):
            words = f"{visit.participant}, {placed_words(making.study, visit)}, {visit.start:%a %d %b %H:%M}"
            yield Job(run_sheet_name(visit), partial(make, visit), Kind.RUN_SHEET, words)


def _days(making: _Making) -> Iterator[Job]:
    study, schedule, wanted = making.study, making.schedule, making.wanted
    days = [day for day in schedule.dates if wanted.day in (None, day)]
    if wanted.person is not None:
        yield from _one_person(making, wanted.person, days)
        return
    for day in days:
        board = partial(day_board, study, schedule, day, paper=making.paper)
        yield Job(day_name("day-board", day), board, Kind.DAY_BOARD, date_words(day))
        own = [span for span in making.spans if span.start.date() == day]
        at_work = {
            Of.PERSON: [p.id for p in study.people if any(p.id in span.roles for span in own)],
            Of.RIG: [r.id for r in study.rigs if any(r.id in span.rigs for span in own)],
        }
        for of, codes in at_work.items():
            if codes:
                found = (study, schedule, tuple(own), [(code, day) for code in codes])
                make = partial(day_sheets, *found, of=of, paper=making.paper, what=date_words(day))
                yield Job(day_name(f"{of}-sheets", day), make, _SHEETS[of], date_words(day))
    if wanted.day is not None and days:
        kit = partial(kit_list, study, schedule, wanted.day)
        yield Job(day_name("kit-list", wanted.day, "xlsx"), kit, Kind.KIT_LIST, date_words(wanted.day))


def _one_person(making: _Making, person: str, days: Sequence[date]) -> Iterator[Job]:
    at_work = {span.start.date() for span in making.spans if person in span.roles}
    pages = [(person, day) for day in days if day in at_work]
    if pages:
        name = own_name("person-sheets", person)
        if making.wanted.day is not None:
            name = own_name(f"person-sheets_{making.wanted.day.isoformat()}", person)
        found = (making.study, making.schedule, making.spans, pages)
        make = partial(day_sheets, *found, of=Of.PERSON, paper=making.paper, what=person)
        yield Job(name, make, Kind.PERSON_SHEET, person)


def _leaflets(making: _Making) -> Iterator[Job]:
    for name in sorted({visit.participant for visit in making.schedule.visits}):
        if making.wanted.participant in (None, name):
            found = (making.study, making.schedule, making.plans, name)
            make = partial(leaflet, *found, paper=making.paper)
            yield Job(own_name("leaflet", name), make, Kind.LEAFLET, name)


def _calendars(making: _Making) -> Iterator[Job]:
    wanted = making.wanted
    only = [
        whose
        for whose in everybody(making.study, making.schedule, making.replaced)
        if wanted.is_everything or _is_of(whose, wanted)
    ]
    for made in calendars(making.study, making.schedule, replaced=making.replaced, only=only):
        yield from _calendar_jobs(made)


def _is_of(whose: Whose, wanted: Wanted) -> bool:
    return whose in (Whose("person", wanted.person or ""), Whose("participant", wanted.participant or ""))


def _calendar_jobs(made: CalendarFile) -> Iterator[Job]:
    whose = "_".join(part for part in made.whose if part)
    words = _WHOSE[made.whose.kind].format(code=made.whose.code)
    yield Job(own_name("calendar", whose, "ics"), made.calendar, Kind.CALENDAR, words)
    for number, cancelled in enumerate(made.cancelled, 1):
        name = own_name("calendar-cancel", f"{whose}_{number:02}", "ics")
        yield Job(name, cancelled, Kind.CALENDAR, f"{words}, cancelled entry {number}")
