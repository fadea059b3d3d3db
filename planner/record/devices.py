"""Which device a part of the visit is done on: as chosen, as recorded before in this visit, or as planned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.record.parts import Part

JOINED = ";"


def devices_of(parts: Sequence[Part], part: Part) -> Mapping[str, str]:
    """The device of each class that the part needs, "" where none is known.

    What this part was recorded on counts first. Then, where an earlier part of the visit was done on
    another device of that class than planned, that one goes on; else it is the planned one.
    """
    classes = part.activity.rigs
    planned = _by_class(classes, part.planned.rigs if part.planned else ())
    if part.rig:
        return planned | _by_class(classes, part.rig.split(JOINED))
    return {one: _gone_on(parts[: part.index], one) or planned.get(one, "") for one in classes}


def _gone_on(before: Sequence[Part], rig_class: str) -> str:
    """The device of that class which the last part before was done on, where it was not the planned one."""
    for part in reversed(before):
        used = _by_class(part.activity.rigs, part.rig.split(JOINED) if part.rig else ())
        if found := used.get(rig_class):
            planned = _by_class(part.activity.rigs, part.planned.rigs if part.planned else ())
            return found if found != planned.get(rig_class) else ""
    return ""


def _by_class(classes: Sequence[str], codes: Sequence[str]) -> dict[str, str]:
    """What was written of the devices, in the order of their classes."""
    return dict(zip(classes, codes, strict=False))


def device_text(devices: Mapping[str, str]) -> str | None:
    """The devices as a line tells them; None where one of them is not known."""
    return JOINED.join(devices.values()) if devices and all(devices.values()) else None
