"""What now? The test day at the device."""

from __future__ import annotations

from typing import Any

import streamlit as st

from planner.pages.arrival import title
from planner.pages.common import no_plan, open_study, plan_in_force, visit_plans_of
from planner.pages.day_choose import by_code, choose
from planner.pages.day_column import chosen_part, show_column, show_other_part
from planner.pages.day_device import show_device
from planner.pages.day_dry_run import play, show_dry_run
from planner.pages.day_notes import show_correction, show_notes
from planner.pages.day_now import show_now
from planner.pages.day_pad import record_tap, show_back, show_pad
from planner.pages.day_pictures import RULER_S, show_ruler
from planner.pages.day_readings import show_readings
from planner.pages.day_replan import show_replan, show_sheets
from planner.pages.day_scene import Scene, acting, instead, open_day
from planner.pages.day_strange import show_as_planned, show_strange
from planner.pages.day_take import show_take
from planner.pages.fold import fold
from planner.pages.heard import heard
from planner.record.live import VisitNow
from planner.record.parts import Part
from planner.record.troubles import RecordTrouble


def _visit(scene: Scene) -> None:
    """The visit in hand: what is now, with the buttons beside it so that no news pushes them out of sight.

    Each part has a place of its own, also while it is empty: what somebody is typing or handing in would be
    lost if a part above came or went and moved it.
    """
    left, right = st.columns(2)
    now = left.container()
    pad, readings, back, device = (right.container() for _ in range(4))
    ruler, notes, column, more = (st.container() for _ in range(4))
    with pad:
        record_tap(scene)
    shown = scene.look()
    part = acting(shown, chosen_part(shown))
    seen = _seen(scene, shown, part)
    with now:
        _now(scene, seen, [shown])
    with pad:
        show_pad(scene, shown, part)
    with back:
        show_back(scene, shown, part)
    with device:
        show_device(scene, shown, part)
    with readings:
        draw_pictures = show_readings(scene, shown)
    with notes:
        show_notes(scene, shown, part)
    with column:
        show_column(scene, shown)
    with more:
        _more(scene, shown)
    draw_pictures()  # last: a picture takes longest, and nobody who taps waits for it
    if not shown.stopped:  # nothing is to come any more
        with ruler:
            _ruler(scene, [shown])


def _seen(scene: Scene, shown: VisitNow, part: Part | None) -> tuple[Any, ...]:
    """What the buttons were drawn for: where it changes, the whole page is drawn anew."""
    missed = instead(shown, part)
    return scene.number, shown.mark, shown.current, part and part.index, missed and missed.index


def _more(scene: Scene, shown: VisitNow) -> None:
    """What is rare: drawn where it is asked for."""
    if place := fold("Someone late, a device out, a person ill", "day-more-trouble"):
        with place:
            with st.container():
                show_replan(scene)
            show_sheets(scene)
    if place := fold(
        "More: find a visit by its sheet, correct a reading, take in a file, dry run", "day-more-rare"
    ):
        with place:
            _rare(scene, shown)


def _rare(scene: Scene, shown: VisitNow) -> None:
    st.toggle("Sound and vibration at the end of a rest", key="day-signal", persist_state="session")
    with st.container():
        by_code(scene.study, scene.schedule)
    show_other_part(shown)
    st.subheader("Correct a reading")
    with st.container():
        show_correction(scene, shown)
    st.subheader("Take in what another station recorded")
    with st.container():
        show_take(scene)
    st.subheader("Dry run with made-up numbers")
    show_dry_run(scene)


@st.fragment(run_every="1s")
def _now(scene: Scene, seen: tuple[Any, ...], drawn: list[VisitNow]) -> None:
    """Looks into the record again each second; what another station did brings the whole page up to date.

    While the whole page is drawn it shows what the page does, `drawn`, and looks again a second later: where
    others record without a pause, a page that began anew for each of them would never be drawn.
    """
    if drawn:
        shown = drawn.pop()
    else:
        with open_day(scene.study) as store:
            play(scene, store)
            shown = scene.at(store).look()
    part = acting(shown, chosen_part(shown))
    if seen != _seen(scene, shown, part):
        st.rerun()
    show_now(scene, shown, part, signal=bool(st.session_state.get("day-signal")))
    heard(shown.now.isoformat())


@st.fragment(run_every=f"{RULER_S}s")
def _ruler(scene: Scene, drawn: list[VisitNow]) -> None:
    """The ruler moves on by itself; at first it stands as the whole page shows it."""
    if drawn:
        shown = drawn.pop()
    else:
        with open_day(scene.study) as store:
            shown = scene.at(store).look()
    show_ruler(scene, shown)


def page() -> None:
    """The page."""
    title("What now?")
    study = open_study()
    schedule = plan_in_force(study)
    if schedule is None:
        no_plan()
        return
    plans = dict(visit_plans_of(study, schedule))
    try:
        with open_day(study) as store:
            scene = choose(study, schedule, plans, store)
            if scene is None:
                st.info("This plan places no visit.")
            elif isinstance(scene, Scene):
                show_strange(study, schedule, plans, scene.placed)
                _visit(scene)
            else:
                show_strange(study, schedule, plans, scene)
                show_as_planned(scene)
                by_code(study, schedule)
    except RecordTrouble as trouble:
        st.error(trouble.message)


page()
