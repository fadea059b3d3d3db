"""What a study still lacks, in the order in which to fill it in: `missing(folder, texts)`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from planner.faults import Faults, Place
from planner.files import Node, inside, yaml_tree
from planner.files.drafts import text_in
from planner.study.read import STUDY_FILE
from planner.study.sheets import FORMS, sheet_of


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing to fill in: the key of study.yaml it is about, and what to do."""

    key: str
    words: str


_ORDER = (
    ("format", "Under Text, the first line says format: 1."),
    ("name", "Give the study a short name."),
    ("time_zone", "Say in which time zone the laboratory lies, such as America/Halifax."),
    ("days", "Say from which day to which day, and when the laboratory is open."),
    ("rigs", "Name the devices, by class."),
    ("staff", "List the staff with their roles."),
    ("shifts", "Say when each staff member works."),
    ("participants", "List the participants by their codes."),
    ("visits", "Say which visits each participant comes for, and the protocol of each."),
)
_DAYS = (
    ("from", "Say on which day the study begins."),
    ("to", "Say on which day it ends."),
    ("open", "Say on which weekdays the laboratory is open, and from when to when."),
)


def missing(folder: Path, texts: Mapping[str, str]) -> tuple[Missing, ...]:
    """What is still to be filled in, first things first; `texts` stand for files of the same name."""
    tree = yaml_tree(texts.get(STUDY_FILE, text_in(folder / STUDY_FILE)), STUDY_FILE, Faults())
    value = tree.value if tree and isinstance(tree.value, dict) else {}
    found = []
    for key, words in _ORDER:
        if not value.get(key):
            found.append(Missing(key, words))
        elif key in FORMS and (lack := _table_lacks(folder, value[key], key, texts)):
            found.append(Missing(key, lack))
        elif key == "days":
            found += [Missing(key, words) for words in _days_lack(value[key])]
        elif key == "visits":
            found += [Missing(key, words) for words in _protocols_lack(folder, value[key])]
    return tuple(found)


def _days_lack(days: Node) -> list[str]:
    """What the days lack once one of their fields is filled in."""
    return [words for key, words in _DAYS if isinstance(days, dict) and not days.get(key)]


def _table_lacks(folder: Path, name: Node, key: str, texts: Mapping[str, str]) -> str:
    """Why the table of that key is not there yet; empty where it has a row."""
    if not isinstance(name, str):
        return ""
    path = folder / name
    if name not in texts and not path.is_file():
        return f"The study names a table {name}, and there is no such file yet."
    if path.suffix.lower() == ".xlsx":
        return ""
    try:
        rows = sheet_of(texts.get(name, text_in(path))).rows
    except ValueError:
        return ""  # a mistake, which is told as one
    return "" if rows else f"The table has no line yet. {dict(_ORDER)[key]}"


def _protocols_lack(folder: Path, visits: Node) -> list[str]:
    """A line for each protocol file that a visit names and that is not there."""
    found = []
    for visit in visits if isinstance(visits, list) else ():
        named = visit.get("protocol") if isinstance(visit, dict) else None
        for name in named.values() if isinstance(named, dict) else [named]:
            if not isinstance(name, str) or name == "none":
                continue
            if not _is_there(folder, name):
                found.append(_not_there(folder, name))
    return list(dict.fromkeys(found))


def _is_there(folder: Path, name: str) -> bool:
    return inside(folder, name, Place(STUDY_FILE), Faults()) is not None


def _not_there(folder: Path, name: str) -> str:
    """What to do about a protocol file that is not there: most often only its ending was left out."""
    if _is_there(folder, f"{name}.yaml"):
        return f"Write the protocol's whole file name: {name}.yaml, not {name}."
    return f"There is no protocol file {name}. Start one on the Protocol page, or name another."
