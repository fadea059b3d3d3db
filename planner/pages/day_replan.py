"""Someone late, a device out, a person ill: a mended plan is proposed, shown, and accepted or not."""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import streamlit as st

from planner.documents.calendars import calendars
from planner.documents.write import write
from planner.pages import access, solving
from planner.pages.as_it_stands import is_strange
from planner.pages.common import plan_at, visit_plans_of
from planner.pages.day_scene import Scene, text, visit_name
from planner.pages.schedule_search import stop
from planner.record.access import Right
from planner.record.store import open_store
from planner.record.troubles import RecordTrouble
from planner.schedule.changes import change_words, own_changes
from planner.schedule.in_force import in_force, kept_plans, put_in_force
from planner.schedule.model import PlacedVisit, Schedule
from planner.schedule.verify import verify

SECONDS, SAID = 20, "day-mend-said"
MINUTES = (5, 10, 15, 20, 30, 45)
TROUBLES = ("late", "does not come", "device out of use", "staff member not there")


def show_replan(scene: Scene) -> None:
    """What has changed; while a proposal is being made, how far it is."""
    folder = scene.study.folder
    if solving.running(folder):
        _progress(folder)
        return
    path = solving.proposal(folder)
    proposed = plan_at(scene.study, path) if path else None
    if proposed is not None and proposed.version > scene.schedule.version:
        _proposal(scene, proposed)
        return
    for complaint in st.session_state.get(SAID, ()):  # stays until the next press
        st.error(text(complaint))
    if (last := solving.last(folder)) and last.what == "mend":
        st.error("No mended plan was found. It said: " + " ".join(solving.told(folder)[-2:]))
    _ask(scene)


def _ask(scene: Scene) -> None:
    what = st.selectbox("What has changed?", TROUBLES, key="day-trouble")  # high enough for gloves
    option = ""
    if what == TROUBLES[0]:
        minutes = st.selectbox("Minutes late", MINUTES, index=MINUTES.index(15), key="day-late")
        option = f"--late={scene.placed.participant}={minutes}"
    elif what == TROUBLES[1]:
        option = f"--cancelled={scene.placed.participant}"
    elif what == TROUBLES[2]:
        rig = st.selectbox("Device", [rig.id for rig in scene.study.rigs], key="day-rig-out")
        option = f"--out-of-use={rig}={_rest_of_day(scene)}"
    elif what == TROUBLES[3]:
        person = st.selectbox("Staff member", [p.id for p in scene.study.people], key="day-person-out")
        option = f"--absent={person}={_rest_of_day(scene)}"
    if option:
        st.button(
            "Propose a mended plan",
            on_click=_start,
            args=(scene, option),
            key="day-mend",
            width="stretch",
            **access.deed(Right.PLAN),
        )


def _moment(scene: Scene) -> datetime:
    """Now, where now lies on the day in hand; else the start of its first visit."""
    now = scene.now()
    day = scene.schedule.on(scene.placed.date)
    return now if now.date() == scene.placed.date else day[0].start


def _rest_of_day(scene: Scene) -> str:
    closing = scene.study.open[scene.placed.date][-1].end
    return f"{_local(_moment(scene))}/{_local(closing)}"


def _local(moment: datetime) -> str:
    return moment.replace(tzinfo=None, microsecond=0).isoformat()


def _start(scene: Scene, option: str) -> None:
    """Begin a search; why not, stands on the page."""
    st.session_state[SAID] = ()
    if not access.may(scene.study, Right.PLAN):
        return
    folder = scene.study.folder
    plan = in_force(folder)
    words = ["repack", str(folder), "--plan", str(plan), "--now", _local(_moment(scene)), option]
    if not solving.start(folder, "mend", [*words, "--seconds", str(SECONDS)], SECONDS):
        st.session_state[SAID] = ("A search is running already. Stop it first, on the Schedule page.",)


@st.fragment(run_every="1s")
def _progress(folder: Path) -> None:
    solve = solving.running(folder)
    if solve is None:
        st.rerun()
    lines = solving.told(folder)
    st.write(lines[-1] if lines else "Looking for the plan that changes least.")
    if solve.is_stopping:  # as long as it lasts: what a press alone writes, the next second would wipe out
        st.write("Stopping. The best plan so far is checked and kept.")
    else:
        can = access.deed(Right.PLAN)
        st.button("Stop and keep the best", on_click=stop, args=(folder,), key="day-mend-stop", **can)


def _proposal(scene: Scene, proposed: Schedule) -> None:
    """What moves, in words; nothing is in force before it is accepted."""
    st.write(f"Plan {proposed.version} would replace plan {scene.schedule.version}. What changes:")
    _changes(scene.schedule, proposed)
    for reason in proposed.reasons:  # what a person must take over or decide
        if reason not in scene.schedule.reasons:
            st.warning(text(reason.message))
    accept, leave = st.columns(2)
    accept.button(
        "Accept: put it in force",
        on_click=_accept,
        args=(scene, proposed),
        key="day-mend-accept",
        width="stretch",
        **access.deed(Right.PLAN),
    )
    leave.button(
        "Leave the plan as it is",
        on_click=_drop,
        args=(scene,),
        key="day-mend-drop",
        width="stretch",
        **access.deed(Right.PLAN),
    )
    for complaint in st.session_state.get(SAID, ()):
        st.error(text(complaint))


def _changes(before: Schedule, proposed: Schedule) -> None:
    """A line for each visit that changes; every single change behind them."""
    starts = {(visit.participant, visit.file_id): visit for visit in proposed.visits}
    rows = []
    for visit in before.visits:
        new = starts.get((visit.participant, visit.file_id))
        if new is None or new.activities != visit.activities:
            rows.append({"Visit": f"{visit.participant}, {visit_name(visit)}", **_was_and_is(visit, new)})
    if rows:
        st.table(rows, hide_index=True)
    else:
        st.write("Nothing moves.")
    own = own_changes(proposed)
    with st.popover(f"All {len(own)} changes, one by one"):
        for change in (*own, *(one for one in proposed.changes if one not in own)):
            st.markdown(f"- {text(change_words(change, proposed))}")


def _was_and_is(before: PlacedVisit, new: PlacedVisit | None) -> dict[str, str]:
    if new is None:
        return {"Starts": f"{before.start:%H:%M}", "Would start": "no place left", "Parts that change": ""}
    pairs = zip(before.activities, new.activities, strict=False)
    moved = sum(was != now for was, now in pairs)
    same_day = new.date == before.date
    start = f"{new.start:%H:%M}" if same_day else f"{new.start:%d %b %H:%M}"
    return {
        "Starts": f"{before.start:%H:%M}",
        "Would start": start,
        "Parts that change": f"{moved} of {len(new.activities)}",
    }


def _drop(scene: Scene) -> None:
    """The proposal is forgotten."""
    st.session_state[SAID] = ()
    if access.may(scene.study, Right.PLAN):
        solving.forget(scene.study.folder)


def _accept(scene: Scene, proposed: Schedule) -> None:
    """Put the proposal in force; why not, stands beside it."""
    st.session_state[SAID] = ()
    if not access.may(scene.study, Right.PLAN):
        return
    plans = visit_plans_of(scene.study, proposed)
    complaints = [one.message for one in verify(proposed, scene.study, plans).broken]
    complaints = complaints or _not_recorded(scene, proposed)
    if complaints:
        st.session_state[SAID] = tuple(complaints)
        return
    put_in_force(scene.study.folder, proposed)
    solving.forget(scene.study.folder)


def _not_recorded(scene: Scene, proposed: Schedule) -> list[str]:
    """Why the record does not take it that this plan is in force; where it does, nothing."""
    try:
        with open_store(scene.study, rehearsed=scene.store.rehearsed) as store:
            outcome = store.plan_in_force(proposed, by=scene.hand.by, station=scene.hand.station)
    except RecordTrouble as trouble:
        return [trouble.message]
    return [outcome.message] if outcome.what == "refused" else []


def show_sheets(scene: Scene) -> None:
    """The day's sheets and calendars of the plan in force, made when they are asked for."""
    if not access.may(scene.study, Right.READ):
        return
    if is_strange(scene.study, scene.schedule, visit_plans_of(scene.study, scene.schedule)):
        return
    day = scene.placed.date
    st.download_button(
        f"Sheets and calendars of this day, plan {scene.schedule.version} (zip)",
        data=access.checked(Right.READ, _sheets(scene)),
        file_name=f"{scene.study.name}_{day.isoformat()}_plan-{scene.schedule.version}.zip",
        mime="application/zip",
        on_click="ignore",
        key="day-sheets",
    )


def _sheets(scene: Scene) -> Callable[[], bytes]:
    def make() -> bytes:
        held = io.BytesIO()
        with (
            tempfile.TemporaryDirectory() as place,
            zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive,
        ):
            plans = visit_plans_of(scene.study, scene.schedule)
            for path in write(scene.study, scene.schedule, plans, Path(place), day=scene.placed.date):
                archive.write(path, path.relative_to(place))
            for name, content in _calendars(scene):
                archive.writestr(f"calendars/{name}.ics", content)
        return held.getvalue()

    return make


def _calendars(scene: Scene) -> Iterator[tuple[str, bytes]]:
    """Everybody's calendar of the plan in force, with what has gone from the plan before taken back."""
    for made in calendars(scene.study, scene.schedule, replaced=_replaced(scene)):
        whose = "_".join(part for part in made.whose if part)
        yield f"calendar_{whose}", made.calendar()
        for number, cancelled in enumerate(made.cancelled, 1):
            yield f"calendar-cancel_{whose}_{number:02}", cancelled()


def _replaced(scene: Scene) -> Schedule | None:
    """The plan before, so that calendars take back what has gone; None where this is the first."""
    for path in kept_plans(scene.study.folder) if scene.schedule.replaces else ():
        found = plan_at(scene.study, path)
        if found is not None and found.version == scene.schedule.replaces:
            return found
    return None
