"""`like`: a manoeuvre takes every key that it does not write from another one, one step deep."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from planner.faults import Place
from planner.files import KeyPath, Node, Tree
from planner.protocol.nearest import nearest
from planner.protocol.noted import Noted

MOST_TAKEN = 50_000  # a file of 1 MB could otherwise unfold into millions of values


@dataclass(frozen=True, slots=True)
class Likes:
    """The tree with every `like` filled in; `taken` are keys by manoeuvre that come from another.

    Taken keys keep their place at the other manoeuvre. `unlike` have a `like` that leads nowhere.
    """

    tree: Tree
    taken: dict[str, frozenset[str]]
    unlike: set[str]


def with_likes(tree: Tree, noted: Noted) -> Likes:
    """The tree with every `like` filled in; those that lead nowhere, or further, are faults."""
    root = tree.value
    manoeuvres = root.get("manoeuvres") if isinstance(root, dict) else None
    if not isinstance(root, dict) or not isinstance(manoeuvres, dict):
        return Likes(tree, {}, set())
    others = {name: _other(name, manoeuvres, tree, noted) for name in manoeuvres}
    unlike = {name for name, node in manoeuvres.items() if _has_like(node) and not others[name]}
    filled: dict[str, Node] = dict(manoeuvres)
    taken: dict[str, frozenset[str]] = {}
    for name, other in others.items():
        node, base = manoeuvres[name], manoeuvres.get(other or "")
        if isinstance(node, dict) and isinstance(base, dict):
            more = {key: value for key, value in base.items() if key not in node and key != "like"}
            filled[name] = {**node, **more}
            taken[name] = frozenset(more)
    if _too_many(tree, others, noted):
        return Likes(tree, {}, set(manoeuvres))
    kept = {name: (other or "", taken[name]) for name, other in others.items() if name in taken}
    tree = replace(tree, value={**root, "manoeuvres": filled})
    return Likes(_with_places(tree, kept), taken, unlike)


def _has_like(node: Node) -> bool:
    return isinstance(node, dict) and "like" in node


def _other(name: str, manoeuvres: dict[str, Node], tree: Tree, noted: Noted) -> str | None:
    """The manoeuvre that this one is like, or None."""
    node = manoeuvres[name]
    if not isinstance(node, dict) or not isinstance(other := node.get("like"), str):
        return None
    place = tree.value_place(("manoeuvres", name, "like"))
    if other == name:
        noted.add(place, "like-itself", f"{name!r} cannot be like itself")
    elif other not in manoeuvres:
        words = f"there is no manoeuvre {other[:80]!r} to be like."
        noted.add(
            place,
            "unknown-manoeuvre",
            words,
            lambda: nearest(other, (key for key in manoeuvres if key != name), "manoeuvre"),
        )
    elif _has_like(base := manoeuvres[other]):
        words = f"{other!r} is itself like another manoeuvre; `like` goes one step"
        root = base.get("like") if isinstance(base, dict) else ""
        noted.add(place, "like-of-like", words, f"Write like: {root} and the keys that differ.")
    else:
        return other
    return None


def _too_many(tree: Tree, others: dict[str, str | None], noted: Noted) -> bool:
    sizes = Counter(path[1] for path in tree.values if path[:1] == ("manoeuvres",) and len(path) > 1)
    if sum(sizes[other] for other in others.values() if other) <= MOST_TAKEN:
        return False
    words = f"with every `like` filled in, the manoeuvres hold more than {MOST_TAKEN} values"
    noted.add(tree.place(("manoeuvres",)), "too-many-values", words)
    return True


def _with_places(tree: Tree, kept: dict[str, tuple[str, frozenset[str]]]) -> Tree:
    """The tree with the places of taken keys added."""
    takers: dict[tuple[str, str], list[str]] = {}
    for name, (other, keys) in kept.items():
        for key in keys:
            takers.setdefault((other, key), []).append(name)

    def more(places: dict[KeyPath, Place]) -> dict[KeyPath, Place]:
        for path, place in list(places.items()):
            if path[:1] == ("manoeuvres",) and len(path) > 2:
                for name in takers.get((str(path[1]), str(path[2])), ()):
                    places[("manoeuvres", name, *path[2:])] = place
        return places

    return replace(tree, places=more(dict(tree.places)), values=more(dict(tree.values)))
