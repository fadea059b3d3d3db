"""A note at any time, and a reading corrected with a reason; both stay beside what was recorded before."""

from __future__ import annotations

from decimal import Decimal

import streamlit as st

from planner.pages import access
from planner.pages.day_pad import SAID
from planner.pages.day_scene import Scene, open_day, text
from planner.record.access import Right
from planner.record.actions import Deed, correct
from planner.record.effort import Value
from planner.record.happenings import EffortNow
from planner.record.live import VisitNow
from planner.record.parts import Part
from planner.study.privacy import speaks_of


def show_notes(scene: Scene, shown: VisitNow, part: Part | None) -> None:
    """The visit's notes, and a line to add one."""
    st.subheader("Notes", anchor=False)
    with st.container():  # what is being typed below keeps its place when another station adds a note
        for note in shown.notes:
            st.write(f"{note.at:%H:%M:%S}, {text(note.who)}: {text(note.text)}")
    if not scene.hand.by or access.why_not(Right.RECORD):
        return
    key = f"day-note-words-{scene.number}"

    def send() -> None:  # before the page is drawn: a run that is broken off cannot lose it
        words = st.session_state[key]
        if speaks_of(words):
            st.session_state["day-note-typed"] = words
        elif words.strip():
            _keep(scene, part, words)

    with st.form(f"day-note-{scene.number}", clear_on_submit=True, border=False):
        said, button = st.columns([4, 1], vertical_alignment="bottom")
        said.text_input("Note", max_chars=1000, placeholder="what happened; codes only, no names", key=key)
        button.form_submit_button("Keep note", on_click=send, width="stretch")
    typed = st.session_state.get("day-note-typed", "")
    if typed and (what := speaks_of(typed)):
        _ask(scene, part, typed, what)


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
    if access.why_not(Right.RECORD):
        st.write("Correcting takes a technician.")
        return
    which, new, why = (f"day-correct-{name}-{scene.number}" for name in ("which", "new", "why"))

    def send() -> None:
        said = {key: st.session_state[key] for key in (which, new, why)}
        if said[new] is None or not said[why].strip():
            st.session_state[SAID] = Deed(refused="a correction needs the new value and a reason")
        else:
            _correct(scene, *lines[said[which]], said[new], said[why])

    with st.form(f"day-correct-{scene.number}"):
        st.selectbox("Reading", list(lines), index=len(lines) - 1, key=which)
        st.number_input("It should be", value=None, step=None, format="%.3f", key=new)
        st.text_input("Why", max_chars=300, placeholder="such as misread, typed wrongly", key=why)
        st.form_submit_button("Correct it", on_click=send)


def _correct(scene: Scene, effort: EffortNow, value: Value, new: float, why: str) -> None:
    if not access.may(scene.study, Right.RECORD):
        return
    with open_day(scene.study) as store:
        rows = store.rows_of(effort.seqs)
        seqs = [int(row.seq) for row in rows if row.reading == value.reading]
        said = Decimal(repr(new)).normalize()
        st.session_state[SAID] = correct(store, seqs, scene.hand, why, value=said)
