"""What pydantic found, as faults with their place in the file."""

from __future__ import annotations

from typing import Any

from pydantic import ValidationError

from planner.faults import Faults, Place
from planner.files import KeyPath, Node, Tree
from planner.protocol.nearest import meant
from planner.protocol.shapes import kind_of
from planner.protocol.written import model_at, written_keys


def note_shape_faults(error: ValidationError, tree: Tree, faults: Faults) -> None:
    """Add a fault for each thing that has not the form of the model."""
    found = error.errors(include_url=False)
    unknown = {_stem(one["loc"]): str(one["loc"][-1]) for one in found if one["type"] == "extra_forbidden"}
    for one in found:
        kind, loc = one["type"], one["loc"]
        path = written_path(loc, tree.value)
        if kind == "extra_forbidden":
            _unknown_key(loc, path, tree, faults)
        elif kind == "missing":
            slip = unknown.get(_stem(loc), "")
            if meant(slip, [str(loc[-1])]) is None and not _inherits(loc, tree.value):
                _missing_key(loc, path, tree, faults)
        elif kind in ("model_type", "dict_type"):
            words = f"a mapping of keys is expected here, but {kind_of(_at(tree.value, path))} stands here"
            once(faults, value_place(tree, path), "wrong-kind", words)
        else:
            place = tree.place(path) if loc[-1] == "[key]" else value_place(tree, path)
            once(faults, place, kind, one["msg"])


def written_path(loc: tuple[int | str, ...], root: Node) -> KeyPath:
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


def once(faults: Faults, place: Place, code: str, message: str, hint: str = "") -> None:
    """Add a fault, unless that place has one of the kind or is refused already."""
    told = {"alias", "merge-key", "key-kind", "anchor", "tag", code}
    if not any(fault.place == place and fault.code in told for fault in faults.faults):
        faults.add(place, code, message, hint)


def _stem(loc: tuple[int | str, ...]) -> tuple[int | str, ...]:
    return loc[:-1]


def _at(node: Node, path: KeyPath) -> Any:
    for part in path:
        node = node[part]  # type: ignore[index]
    return node


def _inherits(loc: tuple[int | str, ...], root: Node) -> bool:
    """Whether a key is missing in a manoeuvre that takes its keys from another: that one is told of it."""
    return loc[0] == "manoeuvres" and len(loc) == 3 and "like" in _at(root, written_path(loc[:2], root))


def _unknown_key(loc: tuple[int | str, ...], path: KeyPath, tree: Tree, faults: Faults) -> None:
    known = written_keys(model_at(loc[:-1]))
    near = meant(str(loc[-1]), known)
    hint = f"Did you mean {near!r}?" if near else f"Keys here are {', '.join(known)}."
    once(faults, tree.place(path), "unknown-key", f"the key {loc[-1]!r} is not known here.", hint)


def _missing_key(loc: tuple[int | str, ...], path: KeyPath, tree: Tree, faults: Faults) -> None:
    where = _owner(loc[:-1], tree.value)
    faults.add(tree.place(path), "missing-key", f"{where} lacks the key {loc[-1]!r}")


def _owner(loc: tuple[int | str, ...], root: Node) -> str:
    """The mapping in words, such as "visit, step 3, due"."""
    if not loc:
        return "the file"
    names = [f"no. {part + 1}" if isinstance(part, int) else part for part in written_path(loc, root)]
    return ", ".join(names)
