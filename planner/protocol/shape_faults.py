"""What pydantic found, as faults with their place in the file."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from planner.faults import Place
from planner.files import KeyPath, Node, Tree
from planner.protocol.nearest import meant
from planner.protocol.noted import Noted
from planner.protocol.shapes import kind_of
from planner.protocol.written import model_at, written_keys

Loc = tuple[int | str, ...]


def note_shape_faults(error: ValidationError, tree: Tree, noted: Noted, unlike: set[str]) -> None:
    """Add a fault for each thing that has not the form of the model.

    `unlike` are manoeuvres whose `like` leads nowhere: what they lack is not told.
    """
    found = error.errors(include_url=False)
    slips = {one["loc"][:-1]: str(one["loc"][-1]) for one in found if one["type"] == "extra_forbidden"}
    for one in found:
        if noted.full:
            return
        loc, path = one["loc"], written_path(one["loc"], tree.value)
        if one["type"] == "extra_forbidden":
            _unknown_key(loc, path, tree, noted)
        elif one["type"] == "missing":
            told = loc[0] == "manoeuvres" and len(loc) == 3 and loc[1] in unlike
            if not told and meant(slips.get(loc[:-1], ""), [str(loc[-1])]) is None:
                _missing_key(loc, path, tree, noted)
        else:
            _wrong_value(str(one["type"]), one["msg"], loc, path, tree, noted)


def written_path(loc: Loc, root: Node) -> KeyPath:
    """The part of a model's location that stands in the file: brackets and keys left out are passed over."""
    path: list[str | int] = []
    node = root
    for part in loc:
        if isinstance(node, dict) and part in node:
            node = node[str(part)]
        elif isinstance(node, list) and isinstance(part, int) and part < len(node):
            node = node[part]
        else:
            continue
        path.append(part)
    return tuple(path)


def value_place(tree: Tree, path: KeyPath) -> Place:
    """Where a wrong value stands: a text at itself, a list or mapping at its key."""
    return tree.value_place(path) if isinstance(_at(tree.value, path), str) else tree.place(path)


def _at(node: Node, path: KeyPath) -> Any:
    for part in path:
        node = node[part]  # type: ignore[index]
    return node


def _wrong_value(kind: str, message: str, loc: Loc, path: KeyPath, tree: Tree, noted: Noted) -> None:
    if kind in ("model_type", "dict_type"):
        message = f"a mapping of keys is expected here, but {kind_of(_at(tree.value, path))} stands here"
        kind = "wrong-kind"
    place = tree.place(path) if loc[-1:] == ("[key]",) else value_place(tree, path)
    noted.add(place, kind, message)


def _unknown_key(loc: Loc, path: KeyPath, tree: Tree, noted: Noted) -> None:
    known = written_keys(model_at(loc[:-1]))

    def hint() -> str:
        near = meant(str(loc[-1]), known)
        return f"Did you mean {near!r}?" if near else f"Keys here are {', '.join(known)}."

    noted.add(tree.place(path), "unknown-key", f"the key {short(str(loc[-1]))} is not known here.", hint)


def _missing_key(loc: Loc, path: KeyPath, tree: Tree, noted: Noted) -> None:
    words = f"{_owner(loc[:-1], tree.value)} lacks the key {loc[-1]!r}"
    place = tree.place(path)
    if (place, f"missing-key {loc[-1]}") not in noted.told:  # several may be missing at one place
        noted.told.discard((place, "missing-key"))
        noted.add(place, "missing-key", words)
        noted.told.add((place, f"missing-key {loc[-1]}"))


def short(text: str) -> str:
    """A text in quotes, cut where it is long."""
    return repr(text) if len(text) <= 80 else f"{text[:40]!r}…"


def _owner(loc: Loc, root: Node) -> str:
    """The mapping in words, such as "visit, no. 3 (row), due"."""
    if not loc:
        return "the file"
    path, words = written_path(loc, root), []
    for end, part in enumerate(path, start=1):
        node = _at(root, path[:end])
        name = node.get("id") if isinstance(node, dict) else None
        if isinstance(part, int):
            words.append(f"no. {part + 1} ({name})" if isinstance(name, str) else f"no. {part + 1}")
        else:
            words.append(short(part)[1:-1])
    return ", ".join(words)
