"""Faults of one protocol, each told once, and not more than a person can read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeAlias

from planner.faults import Faults, Place

Hint: TypeAlias = str | Callable[[], str]

MOST_FAULTS = 200
_REFUSED = ("alias", "merge-key", "key-kind", "tag")


@dataclass(slots=True)
class Noted:
    """Adds to `faults`: each kind once at a place, and nothing at values that were refused already."""

    faults: Faults
    told: set[tuple[Place, str]] = field(default_factory=set)
    refused: set[Place] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.told = {(one.place, one.code) for one in self.faults.faults}
        self.refused = {one.place for one in self.faults.faults if one.code in _REFUSED}

    @property
    def full(self) -> bool:
        """Whether so much is wrong that nothing more is told."""
        return len(self.faults.faults) >= MOST_FAULTS

    def add(self, place: Place, code: str, message: str, hint: Hint = "") -> None:
        """Note a fault; the hint is only worked out where the fault is new."""
        if (place, code) in self.told or place in self.refused or self.full:
            return
        self.told.add((place, code))
        self.faults.add(place, code, message, hint if isinstance(hint, str) else hint())
        if self.full:
            words = f"more than {MOST_FAULTS} mistakes; the rest is not listed"
            self.faults.add(Place(place.file), "too-many-faults", words)

    def warn(self, place: Place, code: str, message: str, hint: str = "") -> None:
        """Note a warning."""
        if (place, code) not in self.told and len(self.faults.warnings) < MOST_FAULTS:
            self.told.add((place, code))
            self.faults.warn(place, code, message, hint)
