"""A tap becomes one deed in the record: what was shown when it was tapped counts, and it counts once."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from planner.pages.day_scene import Scene
from planner.record.actions import Deed
from planner.record.live import VisitNow
from planner.record.parts import Part
from planner.record.troubles import RecordTrouble

ONCE = Deed()  # stands in the record already


def tap(scene: Scene, said: dict[str, Any]) -> Deed:
    """Record what was tapped; a second tap of the same shown button adds nothing."""
    device = None if scene.run else _moment(said.get("device"))  # a played clock has no device's beside it
    scene = replace(scene, hand=replace(scene.hand, device_clock=device))
    shown = scene.look()
    index, number, token = int(said["part"]), int(said["number"]), str(said["token"])
    if not 0 <= index < len(shown.parts):
        return Deed(refused="the page has changed: tap again")
    try:
        if said["deed"] == "undo":
            return take_back(scene, token)
        return _do(scene, shown, str(said["deed"]), shown.parts[index], number, token)
    except RecordTrouble as trouble:
        return Deed(refused=trouble.message)


def _do(scene: Scene, shown: VisitNow, deed: str, part: Part, number: int, token: str) -> Deed:
    day = scene.day(shown)
    match deed:
        case "start":
            return ONCE if _has(part, number) else day.start_effort(part, token=token)
        case "done":
            return ONCE if part.in_hand != number else day.finish_effort(part, number, {}, token=token)
        case "begin":
            return ONCE if part.started else day.begin(part, token=token)
        case "end":
            return ONCE if part.ended else day.end(part, token=token)
        case "not now":
            return day.not_now(part, token=token)
        case "stopped":
            return ONCE if shown.stopped else day.stop(part, token=token)
    return Deed(refused="the page has changed: tap again")


def _has(part: Part, number: int) -> bool:
    return any(effort.number == number for effort in part.efforts)


def _moment(said: object) -> datetime | None:
    """The device's clock as it says; None where it says nothing that can be read."""
    try:
        moment = datetime.fromisoformat(str(said))
    except ValueError:
        return None
    return moment if moment.tzinfo else None


def take_back(scene: Scene, token: str) -> Deed:
    """Undo the last effort or mark of the visit: a correction, and what was recorded stays to be seen."""
    shown = scene.look()
    last = scene.last_deed()
    if last is None:
        return Deed(refused="nothing is recorded of this visit that could be taken back")
    return scene.day(shown).undo(last.seqs, "taken back at the station", token=token)


def last_words(scene: Scene) -> str:
    """What undo would take back, in words; "" where there is nothing."""
    last = scene.last_deed()
    if last is None:
        return ""
    protocol = scene.plan.protocol
    if last.manoeuvre is not None:
        manoeuvre = protocol.manoeuvres.get(last.manoeuvre)
        return f"effort {last.effort} of {manoeuvre.title if manoeuvre else last.manoeuvre}"
    if last.reading == "stopped":
        return "that the visit was stopped"
    titles = {step.id: step.title for step in protocol.visit}  # the record may know steps that are gone
    return f"the {last.reading} of {titles.get(last.step, last.step)}"
