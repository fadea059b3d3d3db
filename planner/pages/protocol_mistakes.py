"""What is wrong with a protocol, in short words, with the part that it is about and the way there."""

from __future__ import annotations

import streamlit as st

from planner.faults import Fault
from planner.files import KeyPath
from planner.pages.common import show_all
from planner.pages.fold import fold
from planner.pages.protocol_parts import item_words
from planner.pages.protocol_text import Found, kept_fault
from planner.timing.forecast import Forecast

VIEW = "protocol-view"  # where the page keeps which view is shown
COMMAND = "testday time"  # what the command line says to do; on this page it is a press away
_MOST_WAYS = 4  # to mistakes, as buttons side by side
_LONG = 240  # letters: a mistake of more is shown by its first words, the rest behind a fold


def mistakes(found: Found, plan: Forecast | None) -> None:
    """Every mistake with the part or the manoeuvre that it is about, and the way there."""
    late = [kept_fault(plan)] if plan is not None else []
    noted = [*found.warnings, *filter(None, late)]
    words = {one: one.message if COMMAND in one.hint else one.words for one in (*found.faults, *noted)}
    for show, what, listed in ((st.error, "Mistake in line", found.faults), (st.warning, "Line", noted)):
        show_all(
            show,
            [f"**{what} {one.place.line}{_about(found, one)}:** {_brief(words[one])}" for one in listed],
        )
    contradicts = bool(found.faults) and found.protocol is not None  # the form is right, the times are not
    if contradicts or any(COMMAND in one.hint for one in noted):
        st.markdown("Under *Chances* the program looks for changes that would mend it.")
    long = [said for said in words.values() if _brief(said) != said]
    if long and (inside := fold("How that is counted", "protocol-why")):
        inside.markdown("\n".join(f"- {said}" for said in long))
    _ways(found)


def _brief(words: str) -> str:
    """What a long mistake says before it counts minute by minute."""
    head, colon, _ = words.partition(": ")
    return f"{head}." if colon and len(words) > _LONG else words


def _about(found: Found, fault: Fault) -> str:
    """Which part of the visit or which manoeuvre a mistake is about, in brackets; empty for the whole."""
    item = found.item_of(fault)
    return f" ({item_words(found.value, item)})" if item else ""


def _ways(found: Found) -> None:
    """A button to each part or manoeuvre that has a mistake."""
    items = [item for item in dict.fromkeys(map(found.item_of, found.faults)) if item]
    with st.container(horizontal=True):
        for item in items[:_MOST_WAYS]:
            st.button(f"Go to {item_words(found.value, item)}", key=f"go-{item}", on_click=_go, args=(item,))


def _go(item: KeyPath) -> None:
    st.session_state[VIEW] = "Parts" if item[0] == "visit" else "Manoeuvres"
    st.session_state[f"choose-{item[0]}"] = item[1]
