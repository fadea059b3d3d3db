"""Take in what another station recorded: columns matched by name, its clock's difference confirmed."""

from __future__ import annotations

import tempfile
from pathlib import Path

import streamlit as st

from planner.faults import FaultyInput
from planner.pages import access
from planner.pages.common import show_faults
from planner.pages.day_scene import Scene, text
from planner.record.access import Right
from planner.record.columns import Mapped, preview, propose, read_head, read_mapped
from planner.record.efforts_file import COLUMNS, EffortsFile
from planner.record.offsets import Offset, estimate, take_shifted
from planner.record.store import Taken

NONE = "(none)"


def show_take(scene: Scene) -> None:
    """Drop a file, look at what it says, confirm, take it in."""
    dropped = st.file_uploader("A table of efforts from another station (CSV)", type=["csv"], key="day-file")
    if dropped is None:
        return
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "efforts.csv"
        path.write_bytes(dropped.getvalue())
        try:
            mapped = _columns(read_head(path))
            if mapped.lacking:
                st.warning(f"No column stands for: {', '.join(mapped.lacking)}. Choose one for each.")
                return
            file = read_mapped(path, scene.study, mapped)
        except FaultyInput as error:
            show_faults(error.faults)
            return
    _preview(file)
    _take(scene, file)


def _columns(head: tuple[str, ...]) -> Mapped:
    """Which of their columns stands for which of ours, as proposed by name and changed by the person."""
    proposed = propose(head)
    with st.expander("Which column is which", expanded=bool(proposed.lacking)):
        places = st.columns(3)
        chosen = {
            ours: places[n % 3].selectbox(
                ours, [NONE, *head], index=_place(head, proposed.columns.get(ours)), key=f"day-column-{ours}"
            )
            for n, ours in enumerate(COLUMNS)
        }
    return Mapped({ours: theirs for ours, theirs in chosen.items() if theirs != NONE})


def _place(head: tuple[str, ...], theirs: str | None) -> int:
    return head.index(theirs) + 1 if theirs in head else 0


def _preview(file: EffortsFile) -> None:
    st.write(f"{len(file.lines)} lines can be read, {len(file.refused)} cannot. The first of them:")
    st.table([{"Row": row, "What it says": words} for row, words in preview(file)], hide_index=True)


def _take(scene: Scene, file: EffortsFile) -> None:
    offset = estimate(scene.store, file.lines)
    st.write(offset.words())
    agreed = True
    if offset.matches and offset.ahead_s:
        agreed = st.checkbox(f"Take {abs(offset.ahead_s)} s off its times", key="day-offset")
    if not scene.hand.by:
        st.info("Choose your staff code above first.")
        return
    if st.button("Take these lines in", type="primary", key="day-take", width="stretch"):
        if not access.may(scene.study, Right.RECORD):
            return
        _tell(_record(scene, file, offset if agreed else Offset(0, 0, 0.0)))


def _record(scene: Scene, file: EffortsFile, offset: Offset) -> Taken:
    hand = scene.hand
    if offset.ahead_s:
        return take_shifted(scene.store, file.lines, offset, by=hand.by, station=hand.station)
    return scene.store.take(file, by=hand.by, station=hand.station)


def _tell(taken: Taken) -> None:
    st.success(f"{taken.added} lines added, {taken.already_there} were there already.")
    if taken.refused:
        st.warning(f"{len(taken.refused)} rows were refused; they are kept with the reason.")
        st.table([{"Row": r.row, "Why": text(r.message)} for r in taken.refused], hide_index=True)
