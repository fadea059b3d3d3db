"""The whole visit as one column: every part with its planned time, what happened and its efforts."""

from __future__ import annotations

from collections.abc import Iterator

import streamlit as st

from planner.clock import seconds_between
from planner.pages.day_scene import Scene, label
from planner.record.live import VisitNow
from planner.record.parts import Part, Status
from planner.schedule.model import Activity, PlacedVisit
from planner.schedule.rules.case import activity_words
from planner.timing.plan import Kind

CHOSEN = "day-part"
SHAPES = {
    Status.DONE: "● done",
    Status.NOW: "▶ now",
    Status.TO_COME: "○ to come",
    Status.PASSED: "– passed over",
}
NOT_REACHED = "– not reached"
GONE = "– in the plan alone"


def show_column(scene: Scene, shown: VisitNow) -> None:
    """A table of text, so that it can be read aloud; of a block, the times of its first effort."""
    st.subheader("The whole visit", anchor=False)
    rows = [_row(scene, shown, part) for part in shown.parts]
    rows += [_gone_row(one) for one in no_part(scene.placed, shown)]
    st.table(rows, hide_index=True, alt="Every part of the visit, in order")


def show_other_part(shown: VisitNow) -> None:
    """Go on with another part than the one in hand; once it begins, those left behind are passed over."""
    open_parts = [p for p in shown.parts if p.status in (Status.TO_COME, Status.NOW) and not shown.stopped]
    labels = {part.index: label(part) for part in open_parts if part.activity.kind is not Kind.REST}
    which, go = st.columns([3, 1], vertical_alignment="bottom")
    index = which.selectbox(
        "Go on with another part", list(labels), format_func=labels.__getitem__, key=f"day-other-{shown.mark}"
    )

    def choose() -> None:
        st.session_state[CHOSEN] = (shown.mark, index)

    go.button("Go there", on_click=choose, key="day-go", width="stretch", disabled=index is None)


def chosen_part(shown: VisitNow) -> int | None:
    """The part that was chosen by hand, until something is recorded."""
    mark, index = st.session_state.get(CHOSEN, ("", None))
    return index if mark == shown.mark and index is not None and index < len(shown.parts) else None


def fell_away(shown: VisitNow, part: Part) -> bool:
    """Whether exercise ended before that part of it could be fitted in: nobody passed it over."""
    inside, due = part.activity.inside, part.due
    ended = shown.parts[inside].ended if inside is not None else None
    if part.status is not Status.PASSED or part.efforts or ended is None or due is None:
        return False
    return seconds_between(due.at, ended) < part.activity.shortest_s - part.activity.prepare_s


def no_part(placed: PlacedVisit, shown: VisitNow) -> Iterator[Activity]:
    """What is planned and no longer stands in the study's files."""
    known = [part.planned for part in shown.parts]
    yield from (one for one in placed.activities if one not in known)


def _gone_row(one: Activity) -> dict[str, str]:
    planned = f"{one.first_effort or one.start:%H:%M}"
    return {
        "State": GONE,
        "What": activity_words(one),
        "Planned": planned,
        "Began": "",
        "Due": "",
        "Efforts": "",
    }


def _row(scene: Scene, shown: VisitNow, part: Part) -> dict[str, str]:
    step = scene.plan.protocol.step(part.activity.step).title
    one = part.planned
    began = part.efforts[0].started if part.efforts else part.started
    what = part.title if part.title == step else f"{step}: {part.title}"
    return {
        "State": NOT_REACHED if fell_away(shown, part) else SHAPES[part.status],
        "What": what.removesuffix(part.title) + label(part),
        "Planned": f"{one.first_effort or one.start:%H:%M}" if one else "",
        "Began": f"{began:%H:%M:%S}" if began else "",
        "Due": f"{part.due.not_before:%H:%M:%S} to {part.due.not_after:%H:%M:%S}" if part.due else "",
        "Efforts": str(len(part.efforts)) if part.efforts else "",
    }
