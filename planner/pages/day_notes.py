"""A note at any time, and a reading corrected with a reason; both stay beside what was recorded before."""

from __future__ import annotations

from decimal import Decimal

import streamlit as st

from planner.pages import access
from planner.pages.day_pad import SAID
from planner.pages.day_scene import Scene, open_day, text
from planner.record.access import Right
from planner.record.actions import Deed, correct
from planner.record.live import VisitNow
from planner.record.parts import Part
from planner.study.privacy import speaks_of


def show_notes(scene: Scene, shown: VisitNow, part: Part | None) -> None:
    """The visit's notes, and a line to add one."""
    st.subheader("Notes", anchor=False)
    for note in shown.notes:
        st.write(f"{note.at:%H:%M:%S}, {text(note.who)}: {text(note.text)}")
    if not scene.hand.by:
        return
    with st.form(f"day-note-{scene.number}", clear_on_submit=True, border=False):
        said, button = st.columns([4, 1], vertical_alignment="bottom")
        words = said.text_input("Note", max_chars=1000, placeholder="what happened; codes only, no names")
        sent = button.form_submit_button("Keep note", width="stretch")
    if sent and words.strip():
        st.session_state["day-note-typed"] = words
    typed = st.session_state.get("day-note-typed", "")
    if typed and (what := speaks_of(typed)):
        _ask(scene, part, typed, what)
    elif typed:
        _keep(scene, part, typed)
        st.rerun()


def _ask(scene: Scene, part: Part | None, typed: str, what: str) -> None:
    """What looks like a person is asked about; it can still be kept."""
    st.warning(f"This note looks as if it held {what}. Use codes, and keep the list of names elsewhere.")
    st.write(text(typed))
    keep, drop = st.columns(2)
    keep.button(
        "Keep it all the same",
        on_click=lambda: _keep(scene, part, typed),
        key="day-note-keep",
        width="stretch",
    )
    drop.button(
        "Throw the note away",
        on_click=lambda: st.session_state.pop("day-note-typed", None),
        key="day-note-drop",
        width="stretch",
    )


def _keep(scene: Scene, part: Part | None, typed: str) -> None:
    st.session_state.pop("day-note-typed", None)
    if access.may(scene.study, Right.RECORD):
        with open_day(scene.study) as store:
            here = scene.at(store)
            st.session_state[SAID] = here.day(here.look()).note(typed, part)


def show_correction(scene: Scene, shown: VisitNow) -> None:
    """A reading that was typed wrongly: the new value and why; the old one stays to be seen."""
    lines = {
        f"{part.title}, effort {effort.number}, {value.reading} {value.value:f} {value.unit}": (effort, value)
        for part in shown.parts
        for effort in part.efforts
        for value in effort.values
    }
    if not lines or not scene.hand.by:
        st.write("There is no reading of this visit to correct.")
        return
    with st.form(f"day-correct-{scene.number}"):
        which = st.selectbox("Reading", list(lines), index=len(lines) - 1)
        new = st.number_input("It should be", value=None, step=None, format="%.3f")
        why = st.text_input("Why", max_chars=300, placeholder="such as misread, typed wrongly")
        sent = st.form_submit_button("Correct it")
    if not sent or which is None:
        return
    if new is None or not why.strip():
        st.warning("A correction needs the new value and a reason.")
        return
    effort, value = lines[which]
    if access.may(scene.study, Right.RECORD):
        rows = scene.store.rows_of(effort.seqs)
        seqs = [int(row.seq) for row in rows if row.reading == value.reading]
        deed: Deed = correct(scene.store, seqs, scene.hand, why, value=Decimal(repr(new)).normalize())
        st.session_state[SAID] = deed
        st.rerun()
