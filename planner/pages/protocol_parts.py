"""The protocol's forms and tables: parts of the visit, manoeuvres, windows."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from zlib import crc32

import streamlit as st

from planner.faults import Fault
from planner.files import KeyPath, Node
from planner.files.drafts import Draft
from planner.files.shipped import shipped_manoeuvres
from planner.pages.access import deed
from planner.pages.cells import Column
from planner.pages.common import show_all
from planner.pages.fold import fold, held
from planner.pages.grid import grid
from planner.pages.protocol_fields import (
    HEAD,
    HEAD_MORE,
    ID,
    MANOEUVRE,
    MANOEUVRE_MORE,
    STEP_GROUPS,
    STEP_MORE,
    TITLE,
    WINDOW,
    shown,
)
from planner.pages.protocol_forms import add_manoeuvre, add_step, form, item_buttons
from planner.pages.protocol_sheets import (
    MANOEUVRES,
    NAME,
    PREPARATIONS,
    STEPS,
    WINDOWS,
    Sheet,
    during_of,
    enough_of,
    item_paths,
    readings_of,
    rows_of,
    stop_of,
    tree_of,
    value_at,
    with_edits,
)
from planner.pages.protocol_text import Found
from planner.record.access import Right


def head(draft: Draft, found: Found) -> None:
    """What holds for the whole visit: its name, cautions, what to keep, how participants prepare."""
    form(draft, found, (), HEAD)
    form(draft, found, (), HEAD_MORE)
    st.markdown("**What participants avoid, bring and wear**")
    table(draft, found, PREPARATIONS, "preparation")


def parts(draft: Draft, found: Found) -> None:
    """One part of the visit as a form, and all of them as a table."""
    steps = value_at(found.value, ("visit",))
    count = len(steps) if isinstance(steps, list) else 0
    can = deed(Right.EDIT)
    st.button("Add a part of the visit", key="add-step", on_click=add_step, args=(draft, count), **can)
    if count:
        chosen = _choose("visit", "Part of the visit", list(range(count)), lambda n: _step_words(steps, n))
        item = ("visit", chosen)
        for words, fields in STEP_GROUPS:
            if words:
                st.markdown(f"**{words}**")
            form(draft, found, item, fields)
        st.markdown("**When it is due**")
        form(draft, found, item, WINDOW)
        item_buttons(draft, item, count, is_list=True)
        if inside := fold("Words for sheets and leaflets", "step-more-words"):
            with inside:
                form(draft, found, item, STEP_MORE)
        if inside := fold("Measured during this part", "step-more-during"):
            with inside:
                table(draft, found, during_of(chosen), "during")
    st.markdown("**All parts**")
    table(draft, found, STEPS, "steps")


def manoeuvres(draft: Draft, found: Found) -> None:
    """One manoeuvre as a form with its readings and rules, and all of them as a table."""
    known = value_at(found.value, ("manoeuvres",))
    names = list(known) if isinstance(known, dict) else []
    which, button = st.columns([3, 2], vertical_alignment="bottom")
    begin = which.selectbox(
        "A new one begins from",
        [None, *shipped_manoeuvres()],
        format_func=lambda name: _title(dict(shipped_manoeuvres()), name) if name else "an empty manoeuvre",
        key="manoeuvre-from",
        help="Those that come with the program bring readings, when to finish, words for sheets and sources.",
    )
    button.button(
        "Add a manoeuvre",
        key="add-manoeuvre",
        on_click=add_manoeuvre,
        args=(draft, names, begin),
        **deed(Right.EDIT),
    )
    if names:
        chosen = _choose("manoeuvres", "Manoeuvre", names, lambda name: _title(known, name))
        item = ("manoeuvres", chosen)
        form(draft, found, item, MANOEUVRE, name=chosen)
        item_buttons(draft, item, len(names), is_list=False)
        if inside := fold("Words for sheets and leaflets, learning, sources", "manoeuvre-more-words"):
            with inside:
                form(draft, found, item, MANOEUVRE_MORE)
        if inside := fold("Readings, and when to finish", "manoeuvre-more-readings"):
            with inside:
                _readings(draft, found, chosen)
    st.markdown("**All manoeuvres**")
    table(draft, found, MANOEUVRES, "manoeuvres")


def _readings(draft: Draft, found: Found, chosen: str) -> None:
    """What one effort of that manoeuvre gives, and what is made of it."""
    st.markdown("**What one effort gives**")
    table(draft, found, readings_of(chosen), "readings")
    st.markdown("**When to finish: at least so many efforts, and each line holds**")
    table(draft, found, enough_of(chosen), "enough")
    st.markdown("**Reasons to stop and ask; a person decides**")
    table(draft, found, stop_of(chosen), "stop")


def windows(draft: Draft, found: Found) -> None:
    """When each part of the visit is due."""
    st.markdown(
        "Times count from the end of the part that is named, to the start of the first effort. "
        "Both ends of a window belong to it."
    )
    table(draft, found, WINDOWS, "windows", locked=(NAME,))


def table(draft: Draft, found: Found, sheet: Sheet, key: str, *, locked: tuple[str, ...] = ()) -> None:
    """One table of the protocol, its mistakes beneath it by row."""
    columns = [
        Column(
            field.label,
            field.help,
            flag=field.kind == "flag",
            lines=field.kind in ("lines", "long"),
            locked=field.label in locked,
        )
        for field in sheet.fields
    ]
    if sheet.is_named:
        columns.insert(0, Column(sheet.name, locked=sheet.name in locked))
    grid(
        f"{key}-{draft.path.name}-{sheet.path}",
        draft,
        columns,
        lambda text: rows_of(tree_of(text), sheet),
        lambda text, edits: with_edits(text, sheet, edits),
        is_free=sheet.is_free,
    )
    with held(f"rows-{key}"):
        _mistakes_by_row(found, sheet)


def _mistakes_by_row(found: Found, sheet: Sheet) -> None:
    rows: dict[Fault, str] = {}
    for number, path in enumerate(item_paths(found.value, sheet), 1):
        for field in sheet.fields:
            for fault in found.of_field(path, field):
                rows.setdefault(fault, f"Row {number}, {field.label}")
    lines = {fault: f"{row}: {_short(fault)}" for fault, row in rows.items()}
    show_all(st.error, [words for fault, words in lines.items() if fault in found.faults])
    show_all(st.warning, [words for fault, words in lines.items() if fault not in found.faults])


def _short(fault: Fault) -> str:
    """Its words beside the cell that it is about."""
    return "still to be filled in" if fault.code == "missing-key" else fault.words


def _choose(kind: str, label: str, options: list[Any], words: Callable[[Any], str]) -> Any:
    """What is chosen, kept apart from the widget: that one goes by its labels, which the forms change."""
    key = f"choose-{kind}"
    if st.session_state.get(key) not in options:
        st.session_state[key] = options[0]
    widget = f"{key}-{crc32(repr(list(map(words, options))).encode())}"
    if st.session_state.get(widget) != st.session_state[key]:
        st.session_state[widget] = st.session_state[key]
    st.selectbox(
        label,
        options,
        format_func=words,
        key=widget,
        on_change=_take_choice,
        args=(key, widget),
        persist_state="session",
    )
    return st.session_state[key]


def _take_choice(key: str, widget: str) -> None:
    st.session_state[key] = st.session_state[widget]


def item_words(value: Node, item: KeyPath) -> str:
    """What a part of the visit or a manoeuvre is called."""
    if item[0] == "visit":
        return _step_words(value_at(value, ("visit",)), int(item[1]))
    return f"manoeuvre {item[1]}"


def _step_words(steps: Node, number: int) -> str:
    item = value_at(steps, (number,))
    return f"{number + 1}. {shown(item, TITLE) or shown(item, ID)}"


def _title(known: Node, name: str) -> str:
    path: KeyPath = (name, "title")
    title = value_at(known, path)
    return f"{name}: {title}" if isinstance(title, str) else name
