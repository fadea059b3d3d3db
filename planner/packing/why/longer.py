"""The study as it would go on if its last day lay later: by the weekdays that are written in its files."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache, partial
from itertools import islice
from pathlib import Path

from planner.faults import FaultyInput, Place
from planner.packing.why.case import Case, Drop
from planner.study.model import Person, Study
from planner.study.read import STUDY_FILE, read_study
from planner.study.trial import read_trial

MORE_DAYS = (7, 14, 28, 70)
MOST_VISITS = 400  # reading the files of more takes too long beside looking for reasons


def longer_steps(case: Case) -> tuple[tuple[str, Drop], ...]:
    """The study with a later last day: one more open day, a week, and more; nothing where none opens."""
    last = case.study.last_day
    longer = _read_longer(case.study) if len(case.visits) <= MOST_VISITS else None
    if longer is None:
        return ()
    steps, opened = [], 0
    one_more = (on for on in sorted(longer.open) if on > last)
    for until in [*islice(one_more, 1), *(last + timedelta(days=more) for more in MORE_DAYS)]:
        new = sum(last < on <= until for on in longer.open)
        if new > opened:
            steps.append((f"if the days went on to {until}", partial(_gone_on, longer, until)))
        opened = new
    return tuple(steps)


def _gone_on(longer: Study, until: date, case: Case) -> Case:
    """The case with the days after its last that the longer study has, and who is there on them."""
    last = case.study.last_day
    new = {on: hours for on, hours in longer.open.items() if last < on <= until}
    return case.with_(
        open={**case.study.open, **new},
        last_day=until,
        people=tuple(_at_work_then(person, longer, last) for person in case.study.people),
        available={
            name: (*lines, *(line for line in longer.available.get(name, ()) if line[0].start.date() > last))
            for name, lines in case.study.available.items()
        },
    )


def _at_work_then(person: Person, longer: Study, last: date) -> Person:
    """The person with the shifts of the days after the last; who is not in the files works always."""
    try:
        there = longer.person(person.id)
    except KeyError:
        there = replace(person, works=longer.open, shifts=longer.open, breaks={})
    works, shifts, breaks = (
        {**own, **{on: spans for on, spans in more.items() if on > last}}
        for own, more in (
            (person.works, there.works),
            (person.shifts, there.shifts),
            (person.breaks, there.breaks),
        )
    )
    return replace(person, works=works, shifts=shifts, breaks=breaks)


def _read_longer(study: Study) -> Study | None:
    """The study with its last day as late as is tried; None where its files cannot say that."""
    until = study.last_day + timedelta(days=MORE_DAYS[-1])
    place = study.places.get(("days", "to"))
    if place is None or not (longer := _read(study.folder, study.fingerprint, place, study.last_day, until)):
        return None
    same = all(longer.asked.get(name) == visits for name, visits in study.asked.items())
    return longer if longer.last_day == until and same else None


@lru_cache(maxsize=2)
def _read(folder: Path, fingerprint: str, place: Place, last: date, until: date) -> Study | None:
    """The files with another last day; None where they are no longer those that the study was read from."""
    try:
        if read_study(folder).fingerprint != fingerprint:
            return None
        text = (folder / STUDY_FILE).read_text("utf-8-sig")
        return read_trial(folder, {STUDY_FILE: _with_last_day(text, place, last, until)})
    except (FaultyInput, OSError, ValueError):
        return None


def _with_last_day(text: str, place: Place, last: date, until: date) -> str:
    """The text with another date after `to:`, which stands at that place."""
    lines = text.splitlines(keepends=True)
    head, tail = lines[: place.line - 1], "".join(lines[place.line - 1 :])
    begin = place.column - 1
    key = re.compile(rf"(to['\"]?\s*:\s*['\"]?){last}")
    return "".join(head) + tail[:begin] + key.sub(rf"\g<1>{until}", tail[begin:], count=1)
