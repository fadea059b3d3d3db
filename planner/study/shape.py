"""study.yaml to its written model: every fault with its place, and whatever is sound kept."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import ValidationError

from planner.faults import Faults
from planner.files import KeyPath, Node, Tree
from planner.protocol.nearest import nearest
from planner.protocol.shape_faults import written_path
from planner.study.written import NEEDED, Written, known_keys


def read_written(tree: Tree, faults: Faults) -> Written | None:
    """The written study without its faulty parts; None where the file is no mapping at all.

    A faulty line of `visits` becomes None, a faulty key counts as left out; each has its fault.
    """
    if not isinstance(tree.value, dict):
        faults.add(tree.place(()), "kind", "a study file is keys with values, such as 'name: my-study'")
        return None
    blanks = list(_blanks(tree.value, ()))
    for path in blanks:
        faults.add(tree.place(path), "empty-value", f"nothing is written for {_words(path)}")
    bad = {*blanks, *_note_errors(tree, set(blanks), faults)}
    for key in NEEDED:
        if key not in tree.value:
            faults.add(tree.place(()), "missing-key", f"the key {key!r} is missing")
    return Written.model_validate(_without(tree.value, bad))


def _blanks(node: Node, path: KeyPath) -> Iterator[KeyPath]:
    """The paths at which nothing is written; the lines of `on_site` may be blank."""
    if node is None and path[:1] != ("on_site",):
        yield path
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    for key, value in items:
        yield from _blanks(value, (*path, key))


def _note_errors(tree: Tree, blanks: set[KeyPath], faults: Faults) -> Iterator[KeyPath]:
    """Notes what the model finds wrong; yields the paths."""
    try:
        Written.model_validate(tree.value)
    except ValidationError as error:
        for found in error.errors():
            path = _written(found["loc"], tree.value, found["type"])
            if path not in blanks:
                _note(tree, path, dict(found), faults)
            yield path


def _written(loc: tuple[str | int, ...], root: Node, kind: str) -> KeyPath:
    """The part of a model's location that stands in the file, with the name of a missing key at its end."""
    path = written_path(loc, root)
    return (*path, loc[-1]) if kind == "missing" else path


def _note(tree: Tree, path: KeyPath, error: dict[str, Any], faults: Faults) -> None:
    kind = error["type"]
    if kind == "extra_forbidden":
        message, hint = (
            f"the key {path[-1]!r} is not known here",
            nearest(str(path[-1]), known_keys(Written, path[:-1]), "the key"),
        )
        faults.add(tree.place(path), "unknown-key", message, hint)
    elif kind == "missing":
        faults.add(
            tree.place(path[:-1]), "missing-key", f"the key {path[-1]!r} is missing in {_words(path[:-1])}"
        )
    elif kind == "value_error":
        faults.add(tree.value_place(path), "value", f"{_words(path)}: {error['ctx']['error']}")
    else:
        wanted = "a list" if kind == "list_type" else "keys with values"
        found = f", and {error['input']!r} was found" if isinstance(error["input"], str) else ""
        faults.add(tree.value_place(path), "kind", f"{_words(path)}: {wanted} must stand here{found}")


def _words(path: KeyPath) -> str:
    """A path as a person would say it, such as `visits, item 2, since_last`."""
    return ", ".join(f"item {key + 1}" if isinstance(key, int) else key for key in path) or "the file"


def _without(value: dict[str, Node], bad: set[KeyPath]) -> dict[str, Node]:
    """The file without its faulty keys; a faulty visit leaves a gap, so that the others keep their number."""
    lines = {path[1] for path in bad if len(path) > 1 and path[0] == "visits" and isinstance(path[1], int)}
    keys = {path[0] for path in bad if path and not (path[0] == "visits" and len(path) > 1)}
    kept = {key: node for key, node in value.items() if key not in keys}
    visits = kept.get("visits")
    if isinstance(visits, list):
        kept["visits"] = [None if number in lines else node for number, node in enumerate(visits)]
    return kept
