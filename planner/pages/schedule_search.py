"""Making a schedule: start a search, see how far it is, stop it and keep the best."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import streamlit as st

from planner.documents.shown import date_words
from planner.pages import access, solving
from planner.pages.fold import fold
from planner.pages.schedule_picture import DAY
from planner.pages.solving import Solve
from planner.record.access import Right
from planner.schedule.in_force import in_force
from planner.schedule.model import Schedule
from planner.schedule.stage_words import amount_words, stage_words
from planner.study.model import Study

CHANCES = {"": "as many as there are (nothing asked)"} | {
    f"{share}%": f"at least {share} of 100 played days" for share in (80, 90, 95)
}
CAPACITY = "capacity.json"


def show_search(study: Study, schedule: Schedule | None) -> None:
    """What can be searched for, and the button that starts it."""
    what, time, button = st.columns([3, 3, 2], vertical_alignment="bottom")
    kinds = ["everything anew"]
    if schedule is not None and schedule.dates:
        kinds += ["as few changes as possible", "the day in hand anew"]
    kind = what.selectbox("Make the schedule", kinds, key="schedule-what")
    seconds = time.slider("Time to search, in seconds", 10, 600, 60, 10, key="schedule-seconds")
    can = access.deed(Right.PLAN)
    if button.button("Make the schedule", key="schedule-pack", width="stretch", **can):
        day = st.session_state.get(DAY)
        words = _words(study.folder, kinds.index(kind), day.isoformat() if day else "", study)
        name = "mend" if words[0] == "repack" else "pack"
        more = _more_words() if name == "pack" else []
        start(study, name, [*words, *more, "--seconds", str(seconds)], seconds)
    _show_more()
    if kind == kinds[-1] and len(kinds) > 1 and st.session_state.get(DAY):
        st.write(f"The day in hand is {date_words(st.session_state[DAY])}; all other days stay as they are.")


def _show_more() -> None:
    """What is rarely asked for when a schedule is made."""
    inside = fold("More: how it is planned", "schedule-more-how")
    if inside is None:
        return
    with inside:
        st.selectbox(
            "Every visit keeps all its time points in",
            list(CHANCES),
            format_func=CHANCES.__getitem__,
            key="schedule-on-time",
            persist_state="session",
        )
        st.checkbox(
            "Use the lengths that the record has taught", key="schedule-learned", persist_state="session"
        )


def _more_words() -> list[str]:
    chance = st.session_state.get("schedule-on-time", "")
    learned = ["--learned"] if st.session_state.get("schedule-learned") else []
    return [*(["--on-time", chance] if chance else []), *learned]


def _words(folder: Path, kind: int, day: str, study: Study) -> list[str]:
    """The command that makes it."""
    plan = str(in_force(folder))
    if kind == 1:
        now = datetime.now(study.zone).replace(tzinfo=None, microsecond=0).isoformat()
        return ["repack", str(folder), "--plan", plan, "--now", now]
    if kind == 2:
        return ["pack", str(folder), "--day", day, "--plan", plan, "--progress-json"]
    return ["pack", str(folder), "--progress-json"]


def start(study: Study, what: str, words: list[str], seconds: float, *, answer: str | None = None) -> None:
    """Start that command, if the person may and nothing else is searching."""
    if not access.may(study, Right.PLAN):
        return
    if not solving.start(study.folder, what, words, seconds, answer=answer):
        st.warning("A search is running already. Stop it first.")
        return
    st.rerun()


@st.fragment(run_every="1s")
def show_progress(folder: Path, asked: int) -> None:
    """What is known so far, and a stop that keeps the best."""
    solve = solving.running(folder)
    if solve is None:
        st.rerun()
    assert solve is not None
    told = solving.progress(folder)
    stage = told.stage if told else ""
    name = stage_words(stage).doing if told else "Reading the study"
    left = told.left_s if told else solve.seconds
    gone = min(1.0, max(0.0, 1 - left / solve.seconds))
    st.progress(gone, f"{name}: about {max(0, left):.0f} s left")
    placed, best, bound = st.columns(3)
    placed.metric("Placed so far", f"{told.placed} of {asked}" if told else "nothing yet")
    known = told if told and (told.placed or stage == "placed") else None  # of no visits nothing is early
    best.metric("Best known", amount_words(stage, known.best if known else None))
    bound.metric("Cannot be better than", amount_words(stage, known.bound if known else None))
    said = solving.told(folder)
    if said and (told is None or len(said) > 1):  # the first says that the study is read
        st.write(said[-1])
    _stop_button(solve, folder, is_heard=bool(said))


def stop(folder: Path) -> None:
    """Stop the search of that study, if the person may; its best is kept."""
    if access.may_in(folder, Right.PLAN):
        solving.stop(folder)


def _stop_button(solve: Solve, folder: Path, *, is_heard: bool) -> None:
    """A search for a plan keeps its best; what mends a plan or counts has nothing to keep before its end."""
    if solve.is_stopping:  # as long as it lasts: what a press alone writes, the next second would wipe out
        st.write("Stopping. The best plan so far is checked and kept.")
    elif solve.what == "pack":
        st.button(
            "Stop and keep the best",
            key="schedule-stop",
            on_click=stop,
            args=(folder,),
            **access.deed(Right.PLAN, disabled=not is_heard),
        )
    elif st.button(
        "Stop; everything stays as it is", key="schedule-stop", **access.deed(Right.PLAN)
    ) and access.may_in(folder, Right.PLAN):
        solving.stop(folder)
        solving.forget(folder)
        st.rerun()
