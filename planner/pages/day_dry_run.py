"""Play a test day before the first participant comes: its own record, its own clock, at any speed."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import streamlit as st

from planner.pages import access
from planner.pages.day_scene import Scene
from planner.pages.drawing import Mark, plan_mark
from planner.record import dry_run
from planner.record.access import Right
from planner.record.dry_run import DryRun, happened_by
from planner.record.effort import VisitKey
from planner.record.lines import Line
from planner.record.rehearse import rehearse
from planner.record.store import Store
from planner.schedule.as_it_stands import strange_visit
from planner.schedule.model import PlacedVisit, Schedule
from planner.schedule.plans import plans_of
from planner.study.model import Study

SEED = 1


def show_dry_run(scene: Scene) -> None:
    """Begin, hasten or end a dry run."""
    run = dry_run.dry_run(scene.study)
    if run is not None:
        st.write(
            f"The played clock shows {scene.now():%d %B %Y %H:%M:%S} and runs {run.speed:g} times as fast."
        )
    speed = st.select_slider("How fast the played clock runs", [1, 2, 5, 10, 30, 60], 1, key="day-speed")
    played = st.checkbox("Made-up people come to the day's other visits", key="day-played")
    go, stop = st.columns(2)
    can = access.deed(Right.RECORD)
    pressed = go.button("Begin at this visit's planned start", key="day-dry-begin", width="stretch", **can)
    if pressed and access.may(scene.study, Right.RECORD):
        began = DryRun(scene.store.now(), scene.placed.start, float(speed), played, scene.number)
        dry_run.begin(scene.study, began)
        st.session_state.pop("day-played-until", None)
        st.rerun()
    ended = run is not None and stop.button("End the dry run", key="day-dry-end", width="stretch", **can)
    if ended and access.may(scene.study, Right.RECORD):
        dry_run.end(scene.study)
        st.rerun()


@st.cache_resource(max_entries=2, show_spinner=False)
def _lines(mark: Mark, day: date, _study: Study, _schedule: Schedule) -> tuple[Line, ...]:
    """What made-up people leave on that day; nothing of a visit that is not the one that is asked for."""
    plans = plans_of(_study, _schedule)
    visits = tuple(v for v in _schedule.on(day) if not strange_visit(v, _schedule, _study, plans))
    return rehearse(_study, replace(_schedule, visits=visits), plans, seed=SEED)


def play(scene: Scene, store: Store) -> None:
    """Record what made-up people have done by now, where they come; each line once."""
    run = scene.run
    if run is None or not run.played:
        return
    by_hand = [_key(visit) for visit in scene.schedule.visits[run.by_hand - 1 : run.by_hand]]
    lines = _lines(plan_mark(scene.study, scene.schedule), run.at.date(), scene.study, scene.schedule)
    others = [line for line in lines if line.key not in by_hand]
    happened = happened_by(others, scene.study, scene.now())
    known = st.session_state.get("day-played-until", 0)
    if len(happened) > known:
        store.take(happened[known:], by="rehearsal")
        st.session_state["day-played-until"] = len(happened)


def _key(placed: PlacedVisit) -> VisitKey:
    return VisitKey(placed.participant, placed.visit, placed.number)
