"""What now? The test day at the device."""

from __future__ import annotations

from typing import Any

import streamlit as st

from planner.documents.now_ruler import now_chart, now_words
from planner.pages.common import no_plan, open_study, plan_in_force, visit_plans_of
from planner.pages.day_choose import by_code, choose
from planner.pages.day_column import chosen_part, show_column, show_other_part
from planner.pages.day_dry_run import play, show_dry_run
from planner.pages.day_notes import show_correction, show_notes
from planner.pages.day_now import show_now
from planner.pages.day_pad import record_tap, show_pad
from planner.pages.day_readings import show_readings
from planner.pages.day_replan import show_replan, show_sheets
from planner.pages.day_scene import Scene, acting, open_day, text
from planner.pages.day_take import show_take
from planner.record.live import VisitNow
from planner.record.troubles import RecordTrouble


def _visit(scene: Scene) -> None:
    """The visit in hand as one column."""
    record_tap(scene)
    shown = scene.look()
    part = acting(shown, chosen_part(shown))
    seen = (scene.number, shown.mark, shown.current, part.index if part else None)
    _now(scene, seen)
    show_pad(scene, shown, part)
    show_readings(scene, shown)
    _ruler(scene)
    show_notes(scene, shown, part)
    show_column(scene, shown)
    _more(scene, shown)


def _more(scene: Scene, shown: VisitNow) -> None:
    """What is rare."""
    with st.expander("Someone late, a device out, a person ill"):
        show_replan(scene)
        show_sheets(scene)
    with st.expander("More: find a visit by its sheet, correct a reading, take in a file, dry run"):
        st.toggle("Sound and vibration at the end of a rest", key="day-signal", persist_state="session")
        by_code(scene.study, scene.schedule)
        show_other_part(shown)
        st.subheader("Correct a reading")
        show_correction(scene, shown)
        st.subheader("Take in what another station recorded")
        show_take(scene)
        st.subheader("Dry run with made-up numbers")
        show_dry_run(scene)


@st.fragment(run_every="1s")
def _now(scene: Scene, seen: tuple[Any, ...]) -> None:
    """Looks into the record again each second; what another station did brings the whole page up to date."""
    with open_day(scene.study) as store:
        play(scene, store)
        shown = scene.at(store).look()
    part = acting(shown, chosen_part(shown))
    if seen != (scene.number, shown.mark, shown.current, part.index if part else None):
        st.rerun()
    show_now(scene, shown, part, signal=bool(st.session_state.get("day-signal")))


@st.fragment(run_every="10s")
def _ruler(scene: Scene) -> None:
    """The visit under the mark for now, and the same in words."""
    with open_day(scene.study) as store:
        shown = scene.at(store).look()
    words = now_words(shown)
    st.altair_chart(now_chart(shown).configure_mark(aria=False), width="stretch", alt=words)
    st.markdown(f":small[{text(words)}]")


def page() -> None:
    """The page."""
    st.title("What now?")
    study = open_study()
    schedule = plan_in_force(study)
    if schedule is None:
        no_plan()
        return
    plans = dict(visit_plans_of(study))
    try:
        with open_day(study) as store:
            scene = choose(study, schedule, plans, store)
            if scene is None:
                st.info("This plan places no visit.")
                return
            _visit(scene)
    except RecordTrouble as trouble:
        st.error(trouble.message)


page()
