"""What is judged beside times: the hands that wrote, and the rows that were refused at the door."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from planner.adherence.hands import Hand, hands
from planner.adherence.model import Note

if TYPE_CHECKING:
    from planner.record.beside import RefusedKept
    from planner.record.store import Store

_SHOWN = 3
_BLIND = "names the condition of a blind visit"


@dataclass(frozen=True, slots=True)
class Beside:
    """`hands`: None where nobody looked. `by_person`: a coordinator has turned on what names people."""

    hands: tuple[Hand, ...] | None = None
    refused: tuple[RefusedKept, ...] = ()
    by_person: bool = False


NOTHING = Beside()


def beside(store: Store, *, by_person: bool = False) -> Beside:
    """All that the record knows of hands and refused rows."""
    from planner.record.beside import refused_rows, writers

    return Beside(hands(writers(store)), tuple(refused_rows(store)), by_person)


def refused_notes(refused: Iterable[RefusedKept]) -> list[Note]:
    """A note for each file with refused rows: how many, and the first ones with their reasons."""
    by_file = sorted(refused, key=lambda one: one.file)
    return [_note(file, list(rows)) for file, rows in groupby(by_file, key=lambda one: one.file)]


def _note(file: str, rows: list[RefusedKept]) -> Note:
    parts = [f"row {row.row}: {_veiled(row.message)}" for row in rows[:_SHOWN]]
    if more := len(rows) - _SHOWN:
        parts += [f"and {more} more, all in the export of the record"] if more > 0 else []
    count = "1 row was" if len(rows) == 1 else f"{len(rows)} rows were"
    head = f"{file or 'an entry'}: {count} refused when taken in, in no count here"
    return Note("refused rows", None, "; ".join([head, *parts]))


def _veiled(message: str) -> str:
    """The reason; where a row wrote down a condition that is not to be shown, without it."""
    return f"its visit {_BLIND}" if _BLIND in message else message
