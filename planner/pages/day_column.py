"""The whole visit as one column: every part with its planned time, what happened and its efforts."""

from __future__ import annotations

import streamlit as st

from planner.clock import duration_words
from planner.pages.day_scene import Scene
from planner.record.live import VisitNow
from planner.record.parts import Part, Status

SHAPES = {
    Status.DONE: "● done",
    Status.NOW: "▶ now",
    Status.TO_COME: "○ to come",
    Status.PASSED: "– passed over",
}


def show_column(scene: Scene, shown: VisitNow) -> None:
    """A table of text, so that it can be read aloud and printed."""
    st.subheader("The whole visit", anchor=False)
    rows = [_row(scene, shown, part) for part in shown.parts]
    st.table(rows, hide_index=True, alt="Every part of the visit, in order")


def _row(scene: Scene, shown: VisitNow, part: Part) -> dict[str, str]:
    at_s = part.activity.at_s
    step = scene.plan.protocol.step(part.activity.step).title
    what = part.title if part.title == step else f"{step}: {part.title}"
    return {
        "State": SHAPES[part.status],
        "What": what + (f" ({duration_words(at_s)})" if at_s is not None else ""),
        "Planned": f"{part.planned.start:%H:%M}" if part.planned else "",
        "Began": f"{part.started:%H:%M:%S}" if part.started else "",
        "Due": f"{part.due.not_before:%H:%M:%S} to {part.due.not_after:%H:%M:%S}" if part.due else "",
        "Efforts": str(len(part.efforts)) if part.efforts else "",
    }
