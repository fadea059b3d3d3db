"""The picture at the head of the Study page, drawn once for what it shows."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.documents import presence as drawing
from planner.faults import FaultyInput
from planner.pages.common import files_mark
from planner.study.model import Study
from planner.study.trial import read_trial


@st.cache_resource(max_entries=8, show_spinner=False)
def tried_out(folder: Path, mark: object, texts: tuple[tuple[str, str], ...]) -> Study | FaultyInput:
    """The study as it would be with those texts in place of its files."""
    try:
        return read_trial(folder, dict(texts))
    except FaultyInput as error:
        return error


@st.cache_resource(max_entries=8, show_spinner=False)
def presence(_study: Study, mark: object) -> tuple[str, str]:
    """The picture of who is there when, as JSON, and its words."""
    return drawing.presence(_study)


def draw_ahead(folder: Path) -> None:
    """The picture that the page opens with where nothing waits to be saved, before anybody asks for it."""
    mark = files_mark(folder), ()
    study = tried_out(folder, *mark)
    if isinstance(study, Study):
        presence(study, mark)
