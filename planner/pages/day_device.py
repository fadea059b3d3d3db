"""Which device is in hand: as planned, or another one of its kind, which the record then tells."""

from __future__ import annotations

import streamlit as st

from planner.pages.access import why_not
from planner.pages.day_scene import Scene, chosen_devices, text
from planner.pages.touch import Key, pad, tapped
from planner.record.access import Right
from planner.record.devices import devices_of
from planner.record.live import VisitNow
from planner.record.parts import Part

PADS = "day-devices-pad"


def show_device(scene: Scene, shown: VisitNow, part: Part | None) -> None:
    """A choice where the study has more than one device of that kind."""
    if part is None or shown.stopped or not scene.hand.by or why_not(Right.RECORD):
        return
    planned = dict(zip(part.activity.rigs, part.planned.rigs if part.planned else (), strict=False))
    for rig_class, usual in devices_of(shown.parts, part).items():
        codes = [rig.id for rig in scene.study.rigs if rig_class in rig.classes]
        if len(codes) > 1:
            _choice(scene, part, rig_class, codes, usual, planned.get(rig_class, ""))


def _choice(scene: Scene, part: Part, rig_class: str, codes: list[str], usual: str, planned: str) -> None:
    chosen = chosen_devices(scene.number)
    key = f"{PADS}-{scene.number}-{part.index}-{rig_class}"
    said = tapped(key)
    if said is not None and said["deed"] in codes:
        chosen[rig_class] = said["deed"]
    now = chosen.get(rig_class, usual)
    st.markdown(f"**{text(rig_class)} in use: {text(now or 'not chosen')}**{_beside(now, planned)}")
    pad([[_key(code, now, planned) for code in codes]], key, doing="")


def _beside(now: str, planned: str) -> str:
    return ", as planned" if now == planned else f", planned was {text(planned)}" if planned else ""


def _key(code: str, now: str, planned: str) -> Key:
    words = f"{'●' if code == now else '○'} {code}{', planned' if code == planned else ''}"
    return Key(code, words, "", 0, kind="small", pressed=code == now)
