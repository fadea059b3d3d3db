"""`like`: a manoeuvre takes every key that it does not write from another one, one step deep."""

from __future__ import annotations

from dataclasses import replace

from planner.faults import Faults
from planner.files import Node, Tree
from planner.protocol.nearest import nearest
from planner.protocol.shape_faults import once

NEVER_TAKEN = ("like",)


def with_likes(tree: Tree, faults: Faults) -> Tree:
    """The same tree with every `like` filled in; taken keys keep the places of the other manoeuvre."""
    root = tree.value
    manoeuvres = root.get("manoeuvres") if isinstance(root, dict) else None
    if not isinstance(root, dict) or not isinstance(manoeuvres, dict):
        return tree
    filled: dict[str, Node] = dict(manoeuvres)
    taken: dict[tuple[str, str], str] = {}
    for name, node in manoeuvres.items():
        other = _other(name, manoeuvres, tree, faults)
        base = manoeuvres.get(other) if other else None
        if not other or not isinstance(node, dict) or not isinstance(base, dict):
            continue
        more = {key: value for key, value in base.items() if key not in node and key not in NEVER_TAKEN}
        filled[name] = {**node, **more}
        taken.update({(name, key): other for key in more})
    return _with_places(replace(tree, value={**root, "manoeuvres": filled}), taken)


def _other(name: str, manoeuvres: dict[str, Node], tree: Tree, faults: Faults) -> str | None:
    """The manoeuvre that this one is like, or None; a `like` that leads nowhere or further is a fault."""
    node = manoeuvres[name]
    if not isinstance(node, dict) or not isinstance(other := node.get("like"), str):
        return None
    place = tree.value_place(("manoeuvres", name, "like"))
    base = manoeuvres.get(other)
    if other == name:
        once(faults, place, "like-itself", f"{name!r} cannot be like itself")
    elif other not in manoeuvres:
        hint = nearest(other, [key for key in manoeuvres if key != name], "manoeuvre")
        once(faults, place, "unknown-manoeuvre", f"there is no manoeuvre {other!r} to be like.", hint)
    elif isinstance(base, dict) and "like" in base:
        words = f"{other!r} is itself like another manoeuvre; `like` goes one step"
        once(faults, place, "like-of-like", words, f"Write like: {base['like']} and the keys that differ.")
    else:
        return other
    return None


def _with_places(tree: Tree, taken: dict[tuple[str, str], str]) -> Tree:
    if not taken:
        return tree
    places, values = dict(tree.places), dict(tree.values)
    takers: dict[tuple[str, str], list[str]] = {}
    for (name, key), other in taken.items():
        takers.setdefault((other, key), []).append(name)
    for kept in (places, values):
        for path, place in list(kept.items()):
            if path[:1] == ("manoeuvres",) and len(path) > 2:
                for name in takers.get((str(path[1]), str(path[2])), ()):
                    kept[("manoeuvres", name, *path[2:])] = place
    return replace(tree, value=tree.value, places=places, values=values)
