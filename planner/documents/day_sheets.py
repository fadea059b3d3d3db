"""One person's day and one device's day on paper: a page each, with breaks, checks and cleaning."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from enum import StrEnum

from planner.clock import Interval
from planner.documents.busy import Doing, Span, of_person, of_rig
from planner.documents.shown import date_words, hhmm, page_values
from planner.documents.texts import lines, say
from planner.documents.typeset import typeset
from planner.schedule.model import Schedule
from planner.study.model import Person, Rig, Study

Page = dict[str, object]


class Of(StrEnum):
    """Whose day a sheet shows."""

    PERSON = "person"
    RIG = "rig"


HEADS = {  # the texts of title, foot and columns
    Of.PERSON: ("sheets.persons_title", "sheets.person_foot", "sheets.person_columns"),
    Of.RIG: ("sheets.rigs_title", "sheets.rig_foot", "sheets.rig_columns"),
}


def day_sheets(
    study: Study,
    schedule: Schedule,
    found: tuple[Span, ...],
    pages: Iterable[tuple[str, date]],
    *,
    of: Of,
    what: str,
    paper: str = "a4",
) -> bytes:
    """A PDF with a page for each code and day; `found` are the plan's spans, `what` names the file."""
    title, foot, columns = HEADS[of]
    values = {
        **page_values(study, schedule, say(title, what=what), paper=paper),
        "foot-code": say(foot),
        "columns": list(lines(columns)),
        "pages": [
            _person_page(study.person(code), day, found)
            if of is Of.PERSON
            else _rig_page(study.rig(code), day, found)
            for code, day in pages
        ],
        "nothing": say("sheets.nothing"),
    }
    return typeset("day_sheets.typ", values, schedule.made)


def _person_page(person: Person, day: date, found: tuple[Span, ...]) -> Page:
    own = [span for span in of_person(found, person.id) if span.start.date() == day]
    rows = [(span.start, _person_row(person.id, span)) for span in own]
    rows += [(gap.start, _gap_row(gap, say("sheets.break"), 6)) for gap in person.breaks.get(day, ())]
    rows += [
        (gap.start, _gap_row(gap, say("sheets.not_here"), 6)) for gap in person.absent if _is_on(gap, day)
    ]
    hours = ", ".join(_clock(shift.start, shift.end) for shift in person.shifts.get(day, ()))
    return {
        "code": person.id,
        "date": date_words(day),
        "under": ", ".join(person.roles),
        "hours": say("sheets.shift", hours=hours) if hours else "",
        "top": [],
        "rows": _in_order(rows),
        "bottom": [say("sheets.person_note")],
    }


def _person_row(code: str, span: Span) -> dict[str, object]:
    cells = [
        _clock(span.start, span.end),
        span.what,
        f"{span.participant} {span.visit}" if span.participant else "",
        ", ".join(span.rigs),
        span.roles[code],
    ]
    return {"cells": cells, "strong": span.doing is Doing.EFFORTS, "tick": span.doing is not Doing.WATCH}


def _rig_page(rig: Rig, day: date, found: tuple[Span, ...]) -> Page:
    own = [span for span in of_rig(found, rig.id) if span.start.date() == day]
    rows: list[tuple[datetime, dict[str, object]]] = []
    last: str | None = None
    for span in own:
        fresh = span.participant is not None and span.participant != last
        last = span.participant or last
        rows.append((span.start, _rig_row(span, fresh=fresh)))
    rows += [(gap.start, _gap_row(gap, say("sheets.out"), 5)) for gap in rig.out if _is_on(gap, day)]
    return {
        "code": rig.id,
        "date": date_words(day),
        "under": ", ".join(rig.classes),
        "hours": "",
        "top": _check_lines(own),
        "rows": _in_order(rows),
        "bottom": [say("sheets.hygiene"), say("sheets.trouble")],
    }


def _check_lines(own: Sequence[Span]) -> list[str]:
    checks = [span for span in own if span.doing is Doing.FIRST_USE]
    if not checks:
        return [say("sheets.check_none")]
    planned = [say("sheets.check_planned", start=hhmm(c.start), end=hhmm(c.end), who=_who(c)) for c in checks]
    return [*planned, say("sheets.check_line")]


def _rig_row(span: Span, *, fresh: bool) -> dict[str, object]:
    what = say("sheets.clean") if span.doing is Doing.CLEARING else span.what
    if fresh and span.doing is Doing.EFFORTS:
        what = f"{what} ({say('sheets.fresh')})"
    cells = [
        _clock(span.start, span.end),
        what,
        f"{span.participant} {span.visit}" if span.participant else "",
        _who(span),
    ]
    return {"cells": cells, "strong": fresh, "tick": True}


def _who(span: Span) -> str:
    return ", ".join(f"{role} {person}" for person, role in span.roles.items())


def _gap_row(gap: Interval, words: str, columns: int) -> dict[str, object]:
    cells = [_clock(gap.start, gap.end), words, *([""] * (columns - 3))]
    return {"cells": cells, "strong": True, "tick": False}


def _in_order(rows: list[tuple[datetime, dict[str, object]]]) -> list[dict[str, object]]:
    return [row for _, row in sorted(rows, key=lambda row: row[0].timestamp())]


def _is_on(gap: Interval, day: date) -> bool:
    return gap.start.date() <= day <= gap.end.date()


def _clock(start: datetime, end: datetime) -> str:
    return f"{hhmm(start)}–{hhmm(end)}"
