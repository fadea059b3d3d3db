"""Which cautions and reasons to stop belong to a protocol; the words stand with the other texts."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.documents.texts import lines, say
from planner.protocol.model import Manoeuvre, Protocol, Step

_HOUR_S = 3600
_BREATH_UNITS = {"L", "l", "mL", "L/s", "L/min", "cmH2O", "kPa"}
_PRESSURE_UNITS = {"cmH2O", "kPa"}
_WALK = re.compile(r"\bwalk", re.IGNORECASE)
_COLD = re.compile(r"\bcold\b", re.IGNORECASE)
_CHAIR = re.compile(r"\bchair", re.IGNORECASE)
_LOADED = re.compile(r"\bMVV\b|voluntary ventilation|loaded breath|against a load", re.IGNORECASE)
_BREATHS = re.compile(
    r"fvc|fev|\bpef\b|\bmvv\b|spirom|vital capacity|\bmip\b|\bmep\b|mouth pressure|snip", re.IGNORECASE
)
_PRESSURES = re.compile(r"\bmip\b|\bmep\b|atory pressure|mouth pressure|snip", re.IGNORECASE)
_DIFFUSING = re.compile(r"DLCO|TLCO|diffus|transfer factor", re.IGNORECASE)


def _units(manoeuvre: Manoeuvre) -> set[str]:
    return {reading.unit for reading in manoeuvre.readings.values()}


def is_breath(manoeuvre: Manoeuvre) -> bool:
    """Whether it gives a volume, a flow or a pressure, or is named like one that does."""
    return bool(_units(manoeuvre) & _BREATH_UNITS) or _is_named(manoeuvre, _BREATHS)


def is_pressure(manoeuvre: Manoeuvre) -> bool:
    """Whether it is made against a closed tube, as far as its readings or name tell."""
    return bool(_units(manoeuvre) & _PRESSURE_UNITS) or _is_named(manoeuvre, _PRESSURES)


def _is_named(manoeuvre: Manoeuvre, pattern: re.Pattern[str]) -> bool:
    return any(pattern.search(text) for text in (manoeuvre.id, manoeuvre.title))


def has_breaths(protocol: Protocol) -> bool:
    """Whether a manoeuvre is a forced breath."""
    return any(map(is_breath, protocol.manoeuvres.values()))


def has_pressures(protocol: Protocol) -> bool:
    """Whether a manoeuvre is made against a closed tube."""
    return any(map(is_pressure, protocol.manoeuvres.values()))


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
    """Short lines beside the bout, save those that the protocol has of its own; empty without a bout."""
    if not bouts(protocol):
        return ()
    told = " ".join(protocol.cautions)
    found = [say("care.challenge")] if has_breaths(protocol) else []
    if is_soon_after_exercise(protocol) and not _CHAIR.search(told):
        found.append(say("care.after_exercise"))
    if _mentions(protocol, _COLD) and not _COLD.search(told):
        found.append(say("care.cold"))
    return tuple(found)


def is_soon_after_exercise(protocol: Protocol, *, forced: bool = False) -> bool:
    """Whether a measure is due within an hour of the end of exercise; with `forced` a forced breath."""
    ids = {step.id for step in bouts(protocol)}
    return any(
        step.due is not None
        and step.due.side == "after"
        and step.due.anchor in ids
        and any(not forced or is_breath(protocol.manoeuvres[name]) for name in step.measure)
        and min(point.at_s for point in step.due.time_points) <= _HOUR_S
        for step in protocol.visit
    )
