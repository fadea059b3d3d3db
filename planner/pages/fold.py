"""Parts of a page that keep their place: behind a fold, drawn once it is opened, or of changing height."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator


def fold(label: str, key: str) -> DeltaGenerator | None:
    """The place for what the fold holds; None while it is closed, so that a click draws only what is seen."""
    place = st.expander(label, key=key, on_change="rerun")
    return place if place.open else None


def held(key: str) -> DeltaGenerator:
    """The place for what comes and goes, such as mistakes: what follows keeps its number on the page."""
    return st.container(key=f"held-{key}")


def words_of_picture(words: str, key: str) -> None:
    """A picture's words, for who wants to read them."""
    if inside := fold("The picture in words", key):
        inside.write(words)
