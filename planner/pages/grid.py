"""A table that can be typed and pasted into, whose every change goes into the draft of a file at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from secrets import token_hex
from threading import Lock
from typing import Any

import streamlit as st

from planner.files.drafts import Draft
from planner.files.marks import CannotEdit
from planner.pages.access import deed, may_edit, why_not
from planner.pages.cells import Cells, Column, Typed, cells, edits, typed
from planner.pages.fold import fold
from planner.pages.pasted import pasted, spread
from planner.record.access import Right

Apply = Callable[[str, Mapping[str, Any]], str]
_ONE_AT_A_TIME = Lock()


def grid(
    key: str,
    draft: Draft,
    columns: Sequence[Column],
    read: Callable[[str], list[dict[str, Any]]],
    apply: Apply,
    *,
    is_free: bool = True,
) -> None:
    """The rows that `read` finds in the draft; `apply(text, edits)` puts what was typed into its text.

    While somebody types, the rows stay those that the table was begun with, and what was typed is put into
    their text; after a change from elsewhere it begins anew.
    """
    names = [one.name for one in columns]
    if why_not(Right.EDIT):
        st.dataframe([{one: row.get(one, "") for one in names} for row in read(draft.text)], hide_index=True)
        return
    begun = {"made": None, "names": names, "heard": 0, "taken": 0, "one at a time": Lock()}
    state = st.session_state.setdefault(f"grid-{key}", begun)
    with _ONE_AT_A_TIME:  # not between a text that is put into the draft and the note of it
        text = draft.text
        if state["made"] != text or state["names"] != names:
            rows = [_cells(row, columns) for row in read(text)]
            state.update(
                turn=token_hex(8), base=text, made=text, names=names, rows=rows, now=list(enumerate(rows))
            )
    widget = f"cells-{key}"
    cells(
        widget,
        columns,
        state["now"],
        turn=state["turn"],
        taken=state["taken"],
        is_free=is_free,
        on_typed=lambda: _take(f"grid-{key}", widget, draft, apply, columns),
    )
    if is_free:
        _paste_box(key, draft, names, apply)


def _cells(row: Mapping[str, Any], columns: Sequence[Column]) -> Cells:
    return [row.get(one.name, one.empty) for one in columns]


def _paste_box(key: str, draft: Draft, columns: Sequence[str], apply: Apply) -> None:
    """Rows from a spreadsheet, added below those that are there."""
    if inside := fold("Paste rows from a spreadsheet", f"paste-open-{key}"):
        inside.text_area(
            f"Rows to add, with the columns {', '.join(columns)}",
            key=f"paste-{key}",
            help="Copy the cells there and paste them here. Names of columns may stand above them.",
            persist_state="session",
        )
        inside.button(
            "Add these rows", key=f"paste-add-{key}", on_click=_add, args=(key, draft, columns, apply)
        )


def _add(key: str, draft: Draft, columns: Sequence[str], apply: Apply) -> None:
    text = str(st.session_state[f"paste-{key}"])
    if not may_edit():
        return
    try:
        draft.change(apply(draft.text, {"added_rows": pasted(text, columns)}))
    except (CannotEdit, ValueError) as error:
        could_not(str(error), text)
        return
    st.session_state[f"paste-{key}"] = ""


def _take(key: str, widget: str, draft: Draft, apply: Apply, columns: Sequence[Column]) -> None:
    """Put what the browser told into the draft. All rows are told each time, so the last one told counts.

    Callbacks of one session may run beside each other. They wait for one another here, and whoever was
    overtaken while waiting has nothing to do: no work is done twice, and nothing older has the last word.
    """
    state = st.session_state[key]
    said = typed(widget, columns, len(state["rows"]))
    if said is None or said.turn != state["turn"] or not may_edit():
        return  # the browser will put it into the rows of now, and tell again
    state["heard"] = max(state["heard"], said.number)
    with state["one at a time"]:
        if said.number < state["heard"]:
            return
        _put_in(state, said, draft, apply, columns)


def _put_in(
    state: dict[str, Any], said: Typed, draft: Draft, apply: Apply, columns: Sequence[Column]
) -> None:
    """What was told into the text that the table was begun with, unless it was changed from elsewhere.

    Then the table begins anew, and the browser tells again what was not taken.
    """
    with _ONE_AT_A_TIME:
        turn, base, rows = (state[name] for name in ("turn", "base", "rows"))
    if turn != said.turn:
        return
    made = edits(rows, said.rows, columns)
    try:
        wanted = spread(made, [one.name for one in columns if not one.lines])
        text = apply(base, wanted)
    except (CannotEdit, ValueError) as error:
        could_not(str(error), _words(made))
        state.update(taken=said.number, now=list(said.rows))
        return
    with _ONE_AT_A_TIME:
        if state["turn"] != turn or draft.text != state["made"]:
            return
        draft.change(text)
        state.update(taken=said.number, now=list(said.rows))
        if wanted["added_rows"] == made["added_rows"]:  # else the table begins anew with the rows apart
            state["made"] = text


def _words(made: Mapping[str, Any]) -> str:
    """All that was typed, cell by cell."""
    rows = [*made["edited_rows"].values(), *made["added_rows"]]
    return "; ".join(", ".join(str(cell) for cell in row.values() if cell) for row in rows)


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
        can_save = deed(Right.EDIT, disabled=not changed)
        if st.button("Save", key=f"{key}-save", type="primary", **can_save) and may_edit():
            for draft in changed:
                draft.save()
            st.rerun()
        undoable = any(draft.can_undo() for draft in drafts)
        can_undo = deed(Right.EDIT, disabled=not undoable)
        if st.button("Undo", key=f"{key}-undo", **can_undo) and may_edit():
            undo_last(drafts)
            st.rerun()
        if st.button("Back to the saved file", key=f"{key}-back", **can_save) and may_edit():
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
