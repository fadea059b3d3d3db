"""Which cautions and reasons to stop belong to a protocol; the words stand with the other texts."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.documents.texts import lines, say
from planner.protocol.model import Manoeuvre, Protocol, Step

_BREATH_UNITS = {"L", "l", "mL", "L/s", "L/min", "cmH2O", "kPa", "mmHg"}
_PRESSURE_UNITS = {"cmH2O", "kPa", "mmHg"}
_WALK = re.compile(r"\bwalk", re.IGNORECASE)
_COLD = re.compile(r"\bcold\b", re.IGNORECASE)
_LOADED = re.compile(r"\bMVV\b|\bload", re.IGNORECASE)
_DIFFUSING = re.compile(r"DLCO|TLCO|diffus|transfer factor", re.IGNORECASE)


def _units(manoeuvre: Manoeuvre) -> set[str]:
    return {reading.unit for reading in manoeuvre.readings.values()}


def has_breaths(protocol: Protocol) -> bool:
    """Whether a manoeuvre reads a volume, a flow or a pressure: a forced breath, as far as can be told."""
    return any(_units(m) & _BREATH_UNITS for m in protocol.manoeuvres.values())


def has_pressures(protocol: Protocol) -> bool:
    """Whether a manoeuvre is made against a closed tube."""
    return any(_units(m) & _PRESSURE_UNITS for m in protocol.manoeuvres.values())


def bouts(protocol: Protocol) -> tuple[Step, ...]:
    """The steps of exercise."""
    return tuple(step for step in protocol.visit if step.exercise)


def _mentions(protocol: Protocol, pattern: re.Pattern[str]) -> bool:
    words = [protocol.title, *(s.title for s in protocol.visit)]
    words += [text for m in protocol.manoeuvres.values() for text in (m.id, m.title)]
    return any(pattern.search(text) for text in words)


def before_efforts(protocol: Protocol) -> tuple[str, ...]:
    """What to ask before the first maximal effort; empty where no forced breath is made."""
    return tuple(_before_efforts(protocol))


def _before_efforts(protocol: Protocol) -> Iterator[str]:
    if has_breaths(protocol):
        yield from lines("care.forced")
    if has_pressures(protocol):
        yield say("care.pressure")
    if _mentions(protocol, _LOADED):
        yield say("care.loaded")
    if _mentions(protocol, _DIFFUSING):
        yield say("care.diffusing")
    if bouts(protocol) and _mentions(protocol, _WALK):
        yield say("care.walk")


def around_exercise(protocol: Protocol) -> tuple[str, ...]:
    """Short lines that stand beside the bout; empty where there is none."""
    if not bouts(protocol):
        return ()
    found = [say("care.challenge")] if has_breaths(protocol) else []
    if any(step.due and step.due.side == "after" and step.measure for step in protocol.visit):
        found.append(say("care.after_exercise"))
    if _mentions(protocol, _COLD):
        found.append(say("care.cold"))
    return tuple(found)
