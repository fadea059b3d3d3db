"""One row of an efforts file against the study: every cell judged, and in words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from difflib import get_close_matches
from functools import cached_property

from planner.clock import duration_s, duration_words, local_moment
from planner.protocol.model import Manoeuvre, Protocol, Step
from planner.record.effort import VisitKey
from planner.record.lines import MARKS, MOST_NOTE, Line
from planner.study.model import Study, Visit

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_MOST_DIGITS = 12
_FIRST_YEAR, _LAST_YEAR = 1990, 2100


class BadRow(ValueError):  # noqa: N818 - names the row, not a slip of ours
    """What is wrong with a row, in words."""


class Rows:
    """Reads the rows of one study's efforts files."""

    def __init__(self, study: Study) -> None:
        self.study = study

    def line(self, number: int, cells: Mapping[str, str]) -> Line:
        """The row with these cells as a line; BadRow says what is wrong with it."""
        visit, key = self.visit(_needed(cells, "participant"), _needed(cells, "visit"))
        protocol = self.study.protocols[visit.protocol]
        started = self.started(_needed(cells, "started"))
        note = cells.get("note", "")
        if len(note) > MOST_NOTE:
            raise BadRow(f"the note is longer than {MOST_NOTE} characters; shorten it")
        _acceptable(cells.get("acceptable", ""))
        rig = self._rig(cells.get("rig", ""))
        if not cells.get("manoeuvre"):
            step, at_s = _mark(protocol, cells)
            return Line(
                key, step, at_s, None, None, cells["reading"], started, note=note, row=number, cells=cells,
                rig=rig,
            )  # fmt: skip
        return replace(_effort_line(protocol, key, started, note, number, cells), rig=rig)

    def _rig(self, text: str) -> str | None:
        """The devices as written; each must be one of the study's."""
        if not text:
            return None
        codes = [code.strip() for code in text.split(";")]
        if unknown := [code for code in codes if code not in self._rigs]:
            raise BadRow(_unknown("device", unknown[0], sorted(self._rigs)))
        return ";".join(codes)

    @cached_property
    def _rigs(self) -> frozenset[str]:
        return frozenset(rig.id for rig in self.study.rigs)

    def visit(self, participant: str, text: str) -> tuple[Visit, VisitKey]:
        """The visit that a row names, and its key; BadRow where the study asks for none such."""
        if participant not in self._participants:
            raise BadRow(_unknown("participant", participant, self.study.participants))
        named = self._visits(participant)
        if text not in named:
            raise BadRow(self._unknown_visit(participant, text, named))
        visit = named[text]
        return visit, VisitKey(participant, visit.kind, visit.number)

    @cached_property
    def _participants(self) -> frozenset[str]:
        return frozenset(self.study.participants)

    @cached_property
    def _named(self) -> dict[str, dict[str, Visit]]:
        return {}

    def _visits(self, participant: str) -> dict[str, Visit]:
        if participant not in self._named:
            visits = self.study.asked.get(participant, ())
            self._named[participant] = {name: visit for visit in visits for name in self._names(visit)}
        return self._named[participant]

    def _names(self, visit: Visit) -> Iterable[str]:
        if visit.number is None:
            yield visit.kind
            return
        yield f"{visit.kind}/{visit.number}"
        if not self.study.kind(visit.kind).blind:
            yield f"{visit.kind}/{visit.condition}"

    def _unknown_visit(self, participant: str, text: str, named: Mapping[str, Visit]) -> str:
        kind, _, rest = text.partition("/")
        conditions = {visit.condition for visit in named.values() if visit.kind == kind}
        if rest and rest in conditions:
            return f"visit {text!r} names the condition of a blind visit; write '{kind}/2' for the second"
        return _unknown(f"visit of {participant}", text, named)

    def started(self, text: str) -> datetime:
        """The local date-time; BadRow where no clock of the study's zone ever shows it."""
        try:
            moment = local_moment(text, self.study.zone)
        except ValueError as error:
            raise BadRow(f"started: {error}") from error
        if not _FIRST_YEAR <= moment.year < _LAST_YEAR:
            raise BadRow(f"started: {text!r} lies outside the years {_FIRST_YEAR} to {_LAST_YEAR}")
        there_and_back = datetime.fromtimestamp(moment.timestamp(), tz=self.study.zone)
        if there_and_back.replace(tzinfo=None) != moment.replace(tzinfo=None):
            raise BadRow(f"started: {text!r} never was: clocks were put forward over it that night")
        return moment


def _needed(cells: Mapping[str, str], name: str) -> str:
    if not (text := cells.get(name, "")):
        raise BadRow(f"{name} is empty")
    return text


def _unknown(what: str, text: str, known: Iterable[str]) -> str:
    names = list(dict.fromkeys(known))
    near = get_close_matches(text, names, 1)
    if near:
        return f"there is no {what} {text[:60]!r}; did you mean {near[0]!r}?"
    listed = ", ".join(names[:8]) + (", …" if len(names) > 8 else "")
    return (
        f"there is no {what} {text[:60]!r}; known: {listed}" if names else f"there is no {what} {text[:60]!r}"
    )


def _step(protocol: Protocol, text: str) -> Step:
    for step in protocol.visit:
        if step.id == text:
            return step
    raise BadRow(_unknown("step", text, [step.id for step in protocol.visit]))


def _at(text: str, possible: list[int], what: str) -> int | None:
    """The time point that `at` writes; with one possible it may be left out."""
    if not text:
        if len(possible) > 1:
            raise BadRow(f"{what} has the time points {_times(possible)}; write one of them in 'at'")
        return possible[0] if possible else None
    try:
        at_s = duration_s(text)
    except ValueError as error:
        raise BadRow(f"at: {error}") from error
    if not possible:
        raise BadRow(f"{what} has no time points; leave 'at' empty")
    if at_s not in possible:
        raise BadRow(f"{what} has no time point at {text!r}; it has {_times(possible)}")
    return at_s


def _times(possible: list[int]) -> str:
    return ", ".join(duration_words(at_s) for at_s in possible)


def _mark(protocol: Protocol, cells: Mapping[str, str]) -> tuple[str, int | None]:
    """Step and time point of a line about a task or bout, or of `stopped`."""
    what = cells.get("reading", "")
    if what not in MARKS:
        raise BadRow(
            "manoeuvre is empty, so 'reading' must be start, end or stopped"
            + (f", not {what[:60]!r}" if what else "")
        )
    if extra := [name for name in ("effort", "value", "unit") if cells.get(name)]:
        raise BadRow(f"{extra[0]} must be empty in a line about a task, a bout or 'stopped'")
    if what == "stopped" and not cells.get("step"):
        return "", None
    step = _step(protocol, _needed(cells, "step"))
    possible = [point.at_s for point in step.due.time_points] if step.due else []
    if what == "stopped":
        at_s = _at(cells["at"], _all_times(step), f"step {step.id!r}") if cells.get("at") else None
        return step.id, at_s
    if step.measure:
        raise BadRow(f"step {step.id!r} has efforts; {what!r} belongs to a task, a bout or a rest")
    return step.id, _at(cells.get("at", ""), possible, f"step {step.id!r}")


def _all_times(step: Step) -> list[int]:
    times = [point.at_s for point in step.due.time_points] if step.due else []
    return times + [point.at_s for during in step.during for point in during.time_points]


def _effort_line(
    protocol: Protocol, key: VisitKey, started: datetime, note: str, row: int, cells: Mapping[str, str]
) -> Line:
    step = _step(protocol, _needed(cells, "step"))
    manoeuvre = _manoeuvre(protocol, step, cells["manoeuvre"])
    possible = _times_of(step, manoeuvre.id)
    at_s = _at(cells.get("at", ""), possible, f"{manoeuvre.id!r} in step {step.id!r}")
    effort = _effort_number(_needed(cells, "effort"))
    reading, value, unit = _reading(manoeuvre, cells)
    accepted = _acceptable(cells.get("acceptable", ""))
    return Line(
        key, step.id, at_s, manoeuvre.id, effort, reading, started, value, unit, accepted, note, row, cells
    )


def _manoeuvre(protocol: Protocol, step: Step, text: str) -> Manoeuvre:
    names = [*step.measure, *(name for during in step.during for name in during.measure)]
    if text not in names:
        raise BadRow(_unknown(f"manoeuvre in step {step.id!r}", text, names))
    return protocol.manoeuvres[text]


def _times_of(step: Step, manoeuvre: str) -> list[int]:
    if manoeuvre in step.measure:
        return [point.at_s for point in step.due.time_points] if step.due else []
    inside = [during for during in step.during if manoeuvre in during.measure]
    return [point.at_s for during in inside for point in during.time_points]


def _effort_number(text: str) -> int:
    """The effort's place in its block; one beyond `at_most` happened all the same and is kept as extra."""
    if not (text.isascii() and text.isdigit() and len(text) < 6 and int(text) > 0):
        raise BadRow(f"effort: {text[:60]!r} is not a whole number from 1")
    return int(text)


def _reading(manoeuvre: Manoeuvre, cells: Mapping[str, str]) -> tuple[str, Decimal | None, str]:
    name, text, unit = (cells.get(column, "") for column in ("reading", "value", "unit"))
    if not name:
        if text or unit:
            raise BadRow("there is a value or a unit but no reading; name the reading")
        return "", None, ""
    if name not in manoeuvre.readings:
        raise BadRow(_unknown(f"reading of {manoeuvre.id!r}", name, manoeuvre.readings))
    if not text:
        raise BadRow(f"{name} has no value; leave reading, value and unit empty for an effort without one")
    if unit != manoeuvre.readings[name].unit:
        said = f"not {unit[:60]!r}" if unit else "and it is missing"
        raise BadRow(f"{name} is in {manoeuvre.readings[name].unit!r}, {said}; nothing is converted")
    return name, number(name, text), unit


def number(name: str, text: str) -> Decimal:
    """The decimal of at most 12 digits that `text` writes; BadRow says what is wrong with it."""
    if not _NUMBER.fullmatch(text) or not text.isascii():
        hint = "; write a decimal point" if re.fullmatch(r"-?\d+,\d+", text) else "; write it as '4.25'"
        raise BadRow(f"{name}: {text[:60]!r} is not a number{hint}")
    if sum(letter.isdigit() for letter in text) > _MOST_DIGITS:
        raise BadRow(f"{name}: {text[:60]!r} has more than {_MOST_DIGITS} digits")
    return Decimal(text)


def _acceptable(text: str) -> bool:
    if text not in ("", "yes", "no"):
        raise BadRow(f"acceptable: {text[:60]!r} is neither 'yes' nor 'no' nor empty")
    return text != "no"
