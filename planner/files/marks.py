"""Where the values of a YAML text begin and end, as letters counted from 0."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from planner.files.tree import KeyPath


class CannotEdit(ValueError):  # noqa: N818 - says what the text allows
    """The text is written in a way that this change cannot be put into it; nothing was changed."""


def compose(text: str) -> Any:
    """The parser's nodes of a text; CannotEdit where it is not valid YAML."""
    from ruamel.yaml import YAML

    try:
        root = YAML(typ="safe", pure=True).compose(text)
    except Exception as error:  # the parser meets nonsense with many kinds of exception
        raise CannotEdit("the text has a mistake of form; mend that first") from error
    if root is None:
        raise CannotEdit("the text is empty")
    return root


@dataclass(frozen=True, slots=True)
class Spot:
    """One value of the text, with the node of its key and of what holds it (None at the root)."""

    node: Any
    parent: Any = None
    key: Any = None
    number: int = 0  # its place among its parent's values


def is_flow(node: Any) -> bool:
    """Whether a list or mapping stands in brackets."""
    return bool(getattr(node, "flow_style", False))


def is_empty(node: Any) -> bool:
    """Whether nothing is written where a value may stand."""
    return node.id == "scalar" and node.value == "" and node.style is None


def children(node: Any) -> list[tuple[Any, Any]]:
    """The (key, value) nodes of a mapping, (None, value) of a list, nothing of a single value."""
    if node.id == "mapping":
        return list(node.value)
    return [(None, value) for value in node.value] if node.id == "sequence" else []


def spot_at(root: Any, path: KeyPath) -> Spot:
    """The value at that path; CannotEdit where there is none."""
    spot = Spot(root)
    for part in path:
        pairs = children(spot.node)
        for number, (key, value) in enumerate(pairs):
            if key.value == str(part) if key is not None else number == part:
                spot = Spot(value, spot.node, key, number)
                break
        else:
            raise CannotEdit(f"there is no {part!r} in the text")
    return spot


def start_of(spot: Spot) -> int:
    """Where the entry begins: at its key, or at the item itself after its dash."""
    return int((spot.key if spot.key is not None else spot.node).start_mark.index)


def after_colon(text: str, key: Any) -> int:
    """The letter after the colon that follows a key."""
    return text.index(":", key.end_mark.index) + 1


def end_of(text: str, node: Any, key: Any = None) -> int:
    """Where what is written of the value ends; blank lines and comments after it are not part of it."""
    if is_empty(node):
        return after_colon(text, key) if key is not None else _after_dash(text, node)
    pairs = children(node)
    if pairs and not is_flow(node):
        return end_of(text, pairs[-1][1], pairs[-1][0])
    begin, end = node.start_mark.index, node.end_mark.index
    return int(begin + len(text[begin:end].rstrip()))


def _after_dash(text: str, node: Any) -> int:
    return text.rindex("-", 0, node.start_mark.index) + 1


def line_start(text: str, place: int) -> int:
    """Where the line of that letter begins."""
    return text.rfind("\n", 0, place) + 1


def line_end(text: str, place: int) -> int:
    """Where the next line begins, or the end of the text."""
    found = text.find("\n", place)
    return len(text) if found < 0 else found + 1
