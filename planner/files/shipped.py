"""The protocols that come with the program, in a clone as well as in an installed package."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from planner.faults import Faults
from planner.files import Node, yaml_tree

_ROOM = Path(__file__).parents[1]
PLACES = (_ROOM / "shipped" / "protocols", _ROOM.parent / "protocols")


def shipped_protocols() -> tuple[Path, ...]:
    """Their files, by name; empty where they were not installed."""
    for place in PLACES:
        if found := sorted(place.glob("*.yaml")):
            return tuple(found)
    return ()


@lru_cache(maxsize=1)
def shipped_manoeuvres() -> Mapping[str, Node]:
    """What those protocols write of each manoeuvre, by its short name: of the first that has it whole."""
    found: dict[str, Node] = {}
    for path in shipped_protocols():
        tree = yaml_tree(path.read_text("utf-8"), path.name, Faults())
        value = tree.value.get("manoeuvres") if tree and isinstance(tree.value, dict) else None
        for name, one in value.items() if isinstance(value, dict) else ():
            if isinstance(one, dict) and "like" not in one:
                found.setdefault(name, one)
    return MappingProxyType(found)
