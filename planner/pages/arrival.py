"""The head of a page: its title stands before the rest is there, so that who arrives sees where they are."""

from __future__ import annotations

import time

import streamlit as st

# How long what follows is held back at an arrival. The browser draws in one go all that reaches it meanwhile,
# and a whole page takes it longer than the 0.3 s within which a click should be answered.
AHEAD_S = 0.02
_SHOWN = "page-shown"


def title(words: str) -> None:
    """The title; whoever comes from another page sees it at once, and the rest when it is drawn."""
    st.title(words)
    if st.session_state.get(_SHOWN) != words:
        st.session_state[_SHOWN] = words
        time.sleep(AHEAD_S)
