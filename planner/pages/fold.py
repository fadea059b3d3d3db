"""A part of a page behind a fold: what is in it is sent to the browser only once it is opened."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator


def fold(label: str, key: str) -> DeltaGenerator | None:
    """The place for what the fold holds; None while it is closed, so that a click draws only what is seen."""
    place = st.expander(label, key=key, on_change="rerun")
    return place if place.open else None


def words_of_picture(words: str, key: str) -> None:
    """A picture's words, for who wants to read them."""
    if inside := fold("The picture in words", key):
        inside.write(words)
