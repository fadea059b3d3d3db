"""Values to YAML text: the little pieces that an edit puts into a file that people also write by hand."""

from __future__ import annotations

import json
import re

from planner.files.tree import Node

_PLAIN = re.compile(r"[A-Za-z0-9(](?:[\w .%+/()°≤≥–'-]*[\w.%+/()°'-])?")
_WIDE = 90  # a mapping or list that is longer than this stands on lines of its own
_READ_OTHERWISE = {"null", "true", "false", "yes", "no", "on", "off"}


def scalar(value: str | None) -> str:
    """One value, in quotes where YAML would otherwise read something else into it."""
    if value is None:
        return "null"
    if value in ("true", "false"):
        return value
    if _PLAIN.fullmatch(value) and value.lower() not in _READ_OTHERWISE:
        return value
    return json.dumps(value, ensure_ascii=False)


def inline(value: Node) -> str:
    """The value on one line, in brackets where it is a list or a mapping."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{scalar(key)}: {inline(item)}" for key, item in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(inline, value)) + "]"
    return scalar(value)


def fits_a_line(value: Node) -> bool:
    """Whether the value reads well on one line."""
    return not isinstance(value, dict | list) or (depth(value) < 3 and len(inline(value)) <= _WIDE)


def depth(value: Node) -> int:
    """How many lists and mappings lie inside each other."""
    items = value.values() if isinstance(value, dict) else value if isinstance(value, list) else None
    return 0 if items is None else 1 + max(map(depth, items), default=0)


def lines(value: Node, *, is_whole: bool = True) -> list[str]:
    """The value as lines without indentation; a mapping that `is_whole` has a line for each key."""
    if isinstance(value, dict) and value and (is_whole or not fits_a_line(value)):
        return [line for key, item in value.items() for line in key_lines(key, item)]
    if isinstance(value, list) and value and not fits_a_line(value):
        return [line for item in value for line in item_lines(item)]
    return [inline(value)]


def key_lines(key: str, value: Node) -> list[str]:
    """The lines of one key with its value."""
    if fits_a_line(value):
        return [f"{scalar(key)}: {inline(value)}"]
    return [f"{scalar(key)}:", *("  " + line for line in lines(value))]


def item_lines(value: Node) -> list[str]:
    """The lines of one item of a list."""
    first, *rest = lines(value, is_whole=not fits_a_line(value))
    return ["- " + first, *("  " + line for line in rest)]
