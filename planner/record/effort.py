"""One effort, or one mark of a task or bout, as it happened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal


@dataclass(frozen=True, slots=True)
class Value:
    """A reading of an effort; `unit` is the reading's unit, `acceptable` as judged by the technician."""

    reading: str
    value: Decimal
    unit: str
    acceptable: bool = True


@dataclass(frozen=True, slots=True)
class VisitKey:
    """Which visit of whom: the kind's id and, with conditions, the place in this participant's order."""

    participant: str
    visit: str
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Effort:
    """One go at a manoeuvre. `number` counts from 1 in its block; `at_s` is the time written in `at`.

    `rig` is the device that it was made on, several joined by a semicolon; None where nobody said.
    """

    key: VisitKey
    step: str
    at_s: int | None
    manoeuvre: str
    number: int
    started: datetime
    values: tuple[Value, ...] = ()
    note: str = ""
    rig: str | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """The start or end of a task or bout, or `stopped`: the visit ended at that time."""

    key: VisitKey
    step: str
    at_s: int | None
    what: Literal["start", "end", "stopped"]
    at: datetime
    note: str = ""
    rig: str | None = None


@dataclass(frozen=True, slots=True)
class Happened:
    """Everything recorded of a study, corrections applied, in order of time. `rehearsed`: made-up numbers."""

    efforts: tuple[Effort, ...]
    marks: tuple[Mark, ...]
    rehearsed: bool = False
