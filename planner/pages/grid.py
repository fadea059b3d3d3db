"""A table that can be typed and pasted into, whose every change goes into the draft of a file at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pandas as pd
import streamlit as st

from planner.files.drafts import Draft
from planner.files.marks import CannotEdit
from planner.pages.access import may_edit
from planner.pages.pasted import pasted, spread

Apply = Callable[[str, Mapping[str, Any]], str]


def grid(
    key: str,
    draft: Draft,
    columns: Sequence[str],
    read: Callable[[str], list[dict[str, Any]]],
    apply: Apply,
    *,
    config: Mapping[str, Any],
    is_free: bool = True,
    locked: Sequence[str] = (),
) -> None:
    """The rows that `read` finds in the draft; `apply(text, edits)` puts what was typed into its text.

    While somebody types, the table stays as it was begun, so that the cursor keeps its place; after
    a change from elsewhere it begins anew.
    """
    text = draft.text
    state = st.session_state.setdefault(f"grid-{key}", {"turn": 0, "made": None})
    if state["made"] != text:
        state.update(turn=state["turn"] + 1, base=text, made=text, rows=read(text))
    widget = f"grid-{key}-{state['turn']}"
    st.data_editor(
        _frame(state["rows"], columns, config),
        key=widget,
        num_rows="dynamic" if is_free else "fixed",
        column_config=dict(config),
        column_order=columns,
        disabled=list(locked),
        hide_index=True,
        width="stretch",
        on_change=_take,
        args=(f"grid-{key}", widget, draft, apply, columns),
    )
    if is_free:
        _paste_box(key, draft, columns, apply)


def text_column(label: str, help_words: str = "") -> Any:
    """A column of texts; in a new row its cells are empty, where the framework would write None."""
    return st.column_config.TextColumn(label, help=help_words or None, default="")


def _paste_box(key: str, draft: Draft, columns: Sequence[str], apply: Apply) -> None:
    """Rows from a spreadsheet, added below those that are there."""
    with st.expander("Paste rows from a spreadsheet", key=f"paste-open-{key}", on_change="rerun"):
        st.text_area(
            f"Rows to add, with the columns {', '.join(columns)}",
            key=f"paste-{key}",
            help="Copy the cells there and paste them here. Names of columns may stand above them.",
        )
        st.button("Add these rows", key=f"paste-add-{key}", on_click=_add, args=(key, draft, columns, apply))


def _add(key: str, draft: Draft, columns: Sequence[str], apply: Apply) -> None:
    text = str(st.session_state[f"paste-{key}"])
    try:
        draft.change(apply(draft.text, {"added_rows": pasted(text, columns)}))
    except (CannotEdit, ValueError) as error:
        could_not(str(error), text)
        return
    st.session_state[f"paste-{key}"] = ""


def _frame(rows: list[dict[str, Any]], columns: Sequence[str], config: Mapping[str, Any]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=list(columns))
    for column in columns:
        flags = isinstance(config.get(column), dict) and config[column]["type_config"]["type"] == "checkbox"
        frame[column] = frame[column].astype(bool if flags else "string")
    return frame


def _take(key: str, widget: str, draft: Draft, apply: Apply, columns: Sequence[str]) -> None:
    state = st.session_state[key]
    edits = st.session_state[widget]
    try:
        wanted = spread(edits, columns)
        text = apply(state["base"], wanted)
    except (CannotEdit, ValueError) as error:
        could_not(str(error), str({name: what for name, what in edits.items() if what}))
        return
    draft.change(text)
    if wanted["added_rows"] == edits.get("added_rows", []):  # else the table begins anew with the rows apart
        state["made"] = text


def could_not(words: str, typed: str) -> None:
    """Keep what could not be written, to be shown once."""
    st.session_state["could-not"] = (words, typed)


def show_could_not() -> None:
    """What was typed and could not be written, so that it is not lost."""
    if found := st.session_state.pop("could-not", None):
        words, typed = found
        st.error(f"This could not be written: {words}. What you typed: {typed}")


def draft_bar(drafts: Sequence[Draft], key: str) -> None:
    """Save, take back, throw away: beside a note of what is not saved yet."""
    changed = [draft for draft in drafts if draft.is_changed]
    for draft in changed:
        if draft.is_overtaken:
            st.warning(
                f"{draft.path.name} was changed by somebody else since you began. Saving puts your text over "
                "it; theirs can be had back by Undo."
            )
    names = ", ".join(draft.path.name for draft in changed)
    with st.container(horizontal=True, vertical_alignment="center"):
        if st.button("Save", key=f"{key}-save", disabled=not changed, type="primary") and may_edit():
            for draft in changed:
                draft.save()
            st.rerun()
        undoable = any(draft.can_undo() for draft in drafts)
        if st.button("Undo", key=f"{key}-undo", disabled=not undoable) and may_edit():
            undo_last(drafts)
            st.rerun()
        if st.button("Back to the saved file", key=f"{key}-back", disabled=not changed):
            for draft in changed:
                draft.throw_away()
            st.rerun()
        st.markdown(
            f"Not saved yet: {names}. It is kept on this machine until you save it."
            if changed
            else "Everything is saved."
        )


def undo_last(drafts: Sequence[Draft]) -> None:
    """Take back the change that was made last, in whichever file."""
    known = [draft for draft in drafts if draft.can_undo()]
    max(known, key=lambda draft: draft.last_change()).undo()
