"""Does a file look as if it held a name, a birth date or an address? Codes belong here, people do not."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

from planner.faults import Faults, Place
from planner.files import Row, Table

_TELLING = re.compile(
    r"\b(?:(?:first|last|sur|family|given|full)[ _-]?name|name|birth|born|dob|address|street|post[ _-]?code|"
    r"zip|e-?mail|phone|mobile|insurance|passport|national[ _-]?id|ssn)",
    re.IGNORECASE,
)
_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[A-Za-z]{2,}")
_PHONE = re.compile(r"\+?\d[\d ()/-]{7,}\d")
_CODE_AS_NAME = re.compile(r"[A-Z][a-z]{2,}(?:[-_ ]?[A-Z][a-z]+)*|[a-z]{3,}[-_][a-z]{3,}")
_BIRTH = re.compile(r"(?:19\d\d|200\d|201\d)[-_]?(?:0[1-9]|1[0-2])[-_]?(?:0[1-9]|[12]\d|3[01])")
_BIRTH_BACKWARDS = re.compile(r"(?:0[1-9]|[12]\d|3[01])[-_.]?(?:0[1-9]|1[0-2])[-_.]?(?:19\d\d|200\d|201\d)")
_FULL_NAME = re.compile(r"[A-ZÀ-Þ][a-zß-ÿ]+,? +[A-ZÀ-Þ][a-zß-ÿ]+")
_NAMED = re.compile(r"\b(?:mrs?|ms|miss|dr|prof)\.? +[A-ZÀ-Þ]|\bborn\b", re.IGNORECASE)
_STREET = re.compile(
    r"[A-Za-zÀ-ÿ.]{3,} +\d+[a-z]?|\d+ +[A-Z][a-z]+ (?:street|road|lane|avenue)", re.IGNORECASE
)
MOST_WARNINGS = 10  # of one table: a list of people is told of once, not 10 000 times


def warn_of_people(table: Table, column: str, faults: Faults) -> None:
    """Warn of what looks like a name, a birth date or an address; the message never repeats the content.

    `column` holds the codes (`participant`, `person`); other cells are looked at as well.
    """
    found = list(_telling_columns(table))
    for row in table.rows:
        found += _telling_cells(row, column)
        if len(found) >= MOST_WARNINGS:
            break
    for place, words in found[:MOST_WARNINGS]:
        faults.warn(
            place, "personal", words, "Use codes such as ROW-07, and keep the list of names elsewhere."
        )


def _telling_columns(table: Table) -> Iterator[tuple[Place, str]]:
    for number, column in enumerate(table.columns):
        if _TELLING.search(column):
            place = table.rows[0].place(column) if table.rows else Place(table.file, 1, number + 1)
            yield Place(table.file, 1, place.column), f"the column {column!r} may hold personal data"


def _telling_cells(row: Row, code_column: str) -> Iterator[tuple[Place, str]]:
    for column, text in row.cells.items():
        if column == code_column and (what := looks_like(text)):
            yield row.place(column), f"this code looks like {what}"
        elif column != code_column and _is_telling(text):
            yield row.place(column), "this cell looks like a name or an address"


@lru_cache(maxsize=4096)  # a long table repeats its words
def _is_telling(text: str) -> bool:
    return bool(_MAIL.fullmatch(text) or _FULL_NAME.fullmatch(text))


@lru_cache(maxsize=4096)
def looks_like(code: str) -> str | None:
    """`a name`, `a birth date` or `an address`, or None where a code looks like a code."""
    if _BIRTH.search(code) or _BIRTH_BACKWARDS.search(code):
        return "a birth date"
    if _MAIL.search(code) or _PHONE.fullmatch(code) or _STREET.fullmatch(code):
        return "an address"
    return "a name" if _CODE_AS_NAME.fullmatch(code) or _FULL_NAME.fullmatch(code) else None


def speaks_of(text: str) -> str | None:
    """What free text seems to hold: `a birth date`, `an address` or `a name`; None where nothing does."""
    if _BIRTH.search(text) or _BIRTH_BACKWARDS.search(text):
        return "a birth date"
    if _MAIL.search(text) or _PHONE.search(text):
        return "an address"
    return "a name" if _FULL_NAME.search(text) or _NAMED.search(text) else None
