"""One manoeuvre or one part of the visit as a form: a field a key, its mistake right beneath it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import streamlit as st

from planner.files import KeyPath, Node
from planner.files.drafts import Draft
from planner.files.edit import swapped, with_item, with_value, without
from planner.files.marks import CannotEdit
from planner.files.shipped import shipped_manoeuvres
from planner.pages.access import deed, may_edit
from planner.pages.grid import could_not
from planner.pages.protocol_fields import ID, Field, shown, written
from planner.pages.protocol_sheets import tree_of, value_at, with_name
from planner.pages.protocol_text import Found
from planner.record.access import Right

_COLUMNS, _WIDE = 3, 2  # fields side by side; those of several lines


def form(
    draft: Draft, found: Found, item: KeyPath, fields: Sequence[Field], *, name: str | None = None
) -> None:
    """The fields of the item at that path; with `name`, its own name is the first."""
    cells = [None, *fields] if name is not None else list(fields)
    count = _WIDE if any(field and field.kind in ("long", "lines") for field in cells) else _COLUMNS
    for start in range(0, len(cells), count):  # row by row, as the tab key goes
        for column, field in zip(st.columns(count), cells[start : start + count], strict=False):
            with column:
                _cell(draft, found, item, field, name)


def _cell(draft: Draft, found: Found, item: KeyPath, field: Field | None, name: str | None) -> None:
    if field is None:
        _input(draft, ID, item, str(name), is_key=True)
        return
    text = shown(value_at(found.value, item), field)
    _input(draft, field, item, text, otherwise=_taken_over(found.value, item, field))
    _mistakes(found, item, field)


def _taken_over(value: Node, item: KeyPath, field: Field) -> str:
    """What a manoeuvre takes from the one it is `like`, where it writes nothing itself."""
    other = value_at(value, (*item, "like"))
    if item[:1] != ("manoeuvres",) or not isinstance(other, str) or field.path == ("like",):
        return ""
    text = shown(value_at(value, ("manoeuvres", other)), field)
    return f"{text} (as {other})" if text else ""


def _input(
    draft: Draft, field: Field, item: KeyPath, text: str, *, is_key: bool = False, otherwise: str = ""
) -> None:
    key = f"field-{draft.path.name}-{item}-{'(key)' if is_key else field.path}"
    arguments = (draft, field, item, key, is_key)
    can = deed(Right.EDIT, hint=field.help or None)
    value: object = text == "true" if field.kind == "flag" else text
    if st.session_state.get(key) != value:  # set only then: what is being typed elsewhere must not be reset
        st.session_state[key] = value
    if field.kind == "flag":
        st.checkbox(field.label, key=key, on_change=_take, args=arguments, persist_state="session", **can)
        return
    box = st.text_area if field.kind in ("long", "lines") else st.text_input
    box(
        field.label,
        key=key,
        placeholder=otherwise,
        on_change=_take,
        args=arguments,
        persist_state="session",  # else a field that was away for a while would come back empty
        **can,
    )


def _mistakes(found: Found, item: KeyPath, field: Field) -> None:
    for fault in found.of_field(item, field):
        if fault.code == "missing-key":
            st.warning("Still to be filled in.")
        elif fault in found.faults:
            st.error(_beside(field, fault.words))
        else:
            st.warning(fault.words)


def _beside(field: Field, words: str) -> str:
    """What is wrong, without the key of the file that it is about: the field's own label stands above it."""
    key, colon, rest = words.partition(": ")
    return rest if colon and field.path and key.split(", ")[0] == field.path[0] else words


def _take(draft: Draft, field: Field, item: KeyPath, key: str, is_key: bool) -> None:
    typed = str(st.session_state[key])
    text = draft.text
    if not may_edit():
        return
    try:
        draft.change(_changed(text, field, item, typed, is_key))
        if is_key and typed.strip():
            st.session_state[f"choose-{item[0]}"] = typed.strip()  # the form stays with what was renamed
    except CannotEdit as error:
        could_not(str(error), typed)


def _changed(text: str, field: Field, item: KeyPath, typed: str, is_key: bool) -> str:
    if is_key or field is ID:
        return with_name(text, item, typed.strip()) if typed.strip() else text
    value: Node = written(value_at(tree_of(text), item), field, typed)
    return with_value(text, item, value)


def item_buttons(draft: Draft, item: KeyPath, count: int, *, is_list: bool) -> None:
    """Move an item of a list, or take an item away; why it cannot be is said at the top of the page."""
    place, kind = item[-1], item[0]
    with st.container(horizontal=True):
        if is_list and isinstance(place, int):
            for words, by, at_end in (("earlier", -1, place == 0), ("later", 1, place >= count - 1)):
                st.button(
                    f"Move {words}",
                    key=f"{words}-{kind}",
                    on_click=_move,
                    args=(draft, item, place + by),
                    **deed(Right.EDIT, disabled=at_end),
                )
        can = deed(Right.EDIT)
        st.button("Take away", key=f"away-{kind}", on_click=_take_away, args=(draft, item), **can)


def _move(draft: Draft, item: KeyPath, to: int) -> None:
    first = (*item[:-1], min(int(item[-1]), to))
    if change(draft, lambda text: swapped(text, first)):
        st.session_state[f"choose-{item[0]}"] = to


def _take_away(draft: Draft, item: KeyPath) -> None:
    if change(draft, lambda text: without(text, item)):
        st.session_state.pop(f"choose-{item[0]}", None)


def change(draft: Draft, how: Callable[[str], str]) -> bool:
    """Put what `how` makes of the text into the draft; False, and said why, where that cannot be."""
    if not may_edit():
        return False
    try:
        draft.change(how(draft.text))
    except CannotEdit as error:
        could_not(str(error), "")
        return False
    return True


def add_step(draft: Draft, count: int) -> None:
    """A new part at the end of the visit."""
    number = count + 1
    step: Node = {"id": f"part-{number}", "title": f"Part {number}", "takes": "5 min"}
    if change(draft, lambda text: with_item(text, ("visit", count), step)):
        st.session_state["choose-visit"] = count


def add_manoeuvre(draft: Draft, names: Sequence[str], begin: str | None) -> None:
    """A new manoeuvre: with all that one which comes with the program says, or with what every one needs."""
    like = shipped_manoeuvres().get(begin or "")
    stem = begin if like is not None and begin else "new"
    if like is not None and stem not in names:
        name = stem
    else:
        name = next(f"{stem}-{n}" for n in range(1, len(names) + 2) if f"{stem}-{n}" not in names)
    empty: Node = {"title": f"New manoeuvre {name}", "effort": "20 s", "rest": "30 s", "efforts": "3"}
    what = empty if like is None else like
    if change(draft, lambda text: with_value(text, ("manoeuvres", name), what)):
        st.session_state["choose-manoeuvres"] = name
