"""Take in what another station recorded: columns matched by name, its clock's difference confirmed."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from hashlib import sha256
from pathlib import Path
from typing import TypeVar

import streamlit as st

from planner.faults import FaultyInput
from planner.pages import access
from planner.pages.common import files_mark, show_faults
from planner.pages.day_scene import Scene, open_day, text
from planner.record.access import Right
from planner.record.columns import OURS, Mapped, preview, propose, read_head, read_mapped
from planner.record.efforts_file import EffortsFile
from planner.record.lines import plain_text
from planner.record.offsets import Offset, estimate, take_shifted
from planner.record.store import Store, Taken
from planner.record.troubles import RecordTrouble
from planner.study.model import Study

NONE, TAKEN, AGREED = "(none)", "day-taken", "day-offset"
Read = TypeVar("Read")


def show_take(scene: Scene) -> None:
    """Drop a file, look at what it says, confirm, take it in."""
    if access.why_not(Right.RECORD):
        st.write("Taking in a file takes a technician.")
        return
    dropped = st.file_uploader("A table of efforts from another station (CSV)", type=["csv"], key="day-file")
    if dropped is None:
        return
    content = dropped.getvalue()
    digest = sha256(content).hexdigest()
    try:
        mapped = _columns(_head(digest, content))
        if mapped.lacking:
            st.warning(f"No column stands for: {', '.join(mapped.lacking)}. Choose one for each.")
            return
        columns = tuple(mapped.columns.items())
        file = _file((digest, columns, files_mark(scene.study.folder)), content, scene.study, mapped)
    except FaultyInput as error:
        show_faults(error.faults)
        return
    _preview(file)
    _take(scene, (digest, columns), replace(file, name=plain_text(dropped.name)[-100:]))
    _tell(digest)


@st.cache_resource(max_entries=4, show_spinner=False)
def _head(digest: str, _content: bytes) -> tuple[str, ...]:
    return _on_disk(_content, read_head)


@st.cache_resource(max_entries=4, show_spinner=False)
def _file(seen: tuple[object, ...], _content: bytes, _study: Study, _mapped: Mapped) -> EffortsFile:
    return _on_disk(_content, lambda path: read_mapped(path, _study, _mapped))


def _on_disk(content: bytes, read: Callable[[Path], Read]) -> Read:
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "efforts.csv"
        path.write_bytes(content)
        return read(path)


def _columns(head: tuple[str, ...]) -> Mapped:
    """Which of their columns stands for which of ours, as proposed by name and changed by the person."""
    proposed = propose(head)
    with st.expander("Which column is which", expanded=bool(proposed.lacking)):
        places = st.columns(3)
        chosen = {
            ours: places[n % 3].selectbox(
                ours, [NONE, *head], index=_place(head, proposed.columns.get(ours)), key=f"day-column-{ours}"
            )
            for n, ours in enumerate(OURS)
        }
    return Mapped({ours: theirs for ours, theirs in chosen.items() if theirs != NONE})


def _place(head: tuple[str, ...], theirs: str | None) -> int:
    return head.index(theirs) + 1 if theirs in head else 0


def _preview(file: EffortsFile) -> None:
    st.write(f"{len(file.lines)} lines can be read, {len(file.refused)} cannot. The first of them:")
    st.table([{"Row": row, "What it says": text(words)} for row, words in preview(file)], hide_index=True)


def _take(scene: Scene, seen: tuple[object, ...], file: EffortsFile) -> None:
    offset = _offset((*seen, str(scene.store.engine.url), scene.store.length()), scene.store, file)
    st.write(offset.words())
    if offset.matches and offset.ahead_s:
        st.checkbox(f"Take {abs(offset.ahead_s)} s off its times", key=AGREED)
    if not scene.hand.by:
        st.info("Choose your staff code above first.")
        return

    def take() -> None:  # before the page is drawn: a run that is broken off cannot lose it
        agreed = bool(offset.ahead_s) and st.session_state.get(AGREED, False)
        if access.may(scene.study, Right.RECORD):
            st.session_state[TAKEN] = (seen[0], _record(scene, file, offset if agreed else None))

    st.button("Take these lines in", on_click=take, key="day-take", width="stretch")


@st.cache_resource(max_entries=4, show_spinner=False)
def _offset(seen: tuple[object, ...], _store: Store, _file: EffortsFile) -> Offset:
    """Estimated again only when something has been recorded."""
    return estimate(_store, _file.lines)


def _record(scene: Scene, file: EffortsFile, offset: Offset | None) -> Taken | RecordTrouble:
    by, station = scene.hand.by, scene.hand.station
    try:
        with open_day(scene.study) as store:
            if offset is not None:
                return take_shifted(store, file, offset, by=by, station=station)
            return store.take(file, by=by, station=station)
    except RecordTrouble as trouble:
        return trouble


def _tell(digest: str) -> None:
    """What became of the file that lies there: it stays to be read for as long as the file does."""
    said, taken = st.session_state.get(TAKEN, ("", None))
    if said != digest:
        return
    if isinstance(taken, RecordTrouble):
        st.error(
            f"Not all of it was recorded: {taken.message} What was is kept once if the file is sent again."
        )
    if not isinstance(taken, Taken):
        return
    st.success(f"{taken.added} lines added, {taken.already_there} were there already.")
    if taken.refused:
        count = "1 row was" if len(taken.refused) == 1 else f"{len(taken.refused)} rows were"
        st.warning(f"{count} refused and kept with the reason.")
        st.table([{"Row": r.row, "Why": text(r.message)} for r in taken.refused], hide_index=True)
