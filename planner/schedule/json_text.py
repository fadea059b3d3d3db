"""A JSON file to values, and the line and column of any of them where something is wrong."""

from __future__ import annotations

import json
from dataclasses import dataclass
from json.decoder import scanstring  # type: ignore[attr-defined]
from pathlib import Path
from typing import Any

from planner.faults import Faults, Place

JsonPath = tuple[str | int, ...]
MOST_BYTES = 200_000_000


@dataclass(frozen=True, slots=True)
class JsonText:
    """The text of a file with its value."""

    file: str
    text: str
    value: Any

    def place(self, path: JsonPath) -> Place:
        """Where the value of that path begins, or its nearest parent; found by reading the text again."""
        position = _skip(self.text, 0)
        for key in path:
            step = _inside(self.text, position, key)
            if step is None:
                break
            position = step
        before = self.text[:position]
        return Place(self.file, before.count("\n") + 1, position - (before.rfind("\n") + 1) + 1)


def read_json(path: Path, faults: Faults) -> JsonText | None:
    """The file's text and value; None with a fault where it is no JSON that can be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            faults.add(Place(path.name), "too-big", f"{path.name} is larger than 200 MB", "It was not read.")
            return None
        text = path.read_text("utf-8-sig")
        return JsonText(
            path.name, text, json.loads(text, object_pairs_hook=_no_twins, parse_constant=_refuse)
        )
    except json.JSONDecodeError as error:
        place = Place(path.name, error.lineno, error.colno)
        faults.add(
            place, "json-syntax", f"this is not valid JSON: {error.msg}", "Was the file cut short or edited?"
        )
    except UnicodeDecodeError:
        faults.add(
            Place(path.name), "encoding", f"{path.name} is not UTF-8 text", "Is it a plan file at all?"
        )
    except RecursionError:
        faults.add(Place(path.name), "too-deep", f"{path.name} is nested too deeply to be a plan")
    except ValueError as error:
        faults.add(Place(path.name), "json-syntax", f"this is not valid JSON: {error}")
    except OSError as error:
        faults.add(Place(path.name), "no-file", f"{path.name} cannot be read: {error.strerror}")
    return None


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        names = [name for name, _ in pairs]
        twin = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the key {twin!r} stands twice in one object")
    return found


def _refuse(word: str) -> None:
    raise ValueError(f"{word} is not a number")


def _skip(text: str, position: int) -> int:
    while position < len(text) and text[position] in " \t\r\n,:":
        position += 1
    return position


def _inside(text: str, position: int, key: str | int) -> int | None:
    """Where the member or item of that key begins, inside the object or list at `position`."""
    decoder = json.JSONDecoder()
    opening = text[position : position + 1]
    if opening not in "{[" or (opening == "{") != isinstance(key, str):
        return None
    position, number = _skip(text, position + 1), 0
    while text[position : position + 1] not in ("", "}", "]"):
        name: str | int = number
        if opening == "{":
            name, position = scanstring(text, position + 1)
            position = _skip(text, position)
        if name == key:
            return position
        _, position = decoder.raw_decode(text, position)
        position, number = _skip(text, position), number + 1
    return None
