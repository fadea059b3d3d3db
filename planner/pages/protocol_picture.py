"""The picture at the head of the Protocol page, drawn once for what it shows."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.documents.picture import screen_spec
from planner.documents.ruler import visit_chart, visit_words
from planner.files.drafts import Draft
from planner.pages.protocol_text import ahead
from planner.study.read import STUDY_FILE
from planner.timing.forecast import Forecast

SHARE = 80  # of 100 visits that a block has time enough for, until somebody asks for another


def protocol_files(folder: Path) -> list[Path]:
    """The protocol files that the study may use: its own, and shared ones one folder up."""
    near = [*sorted(folder.glob("*.yaml")), *sorted(folder.parent.glob("protocols/*.yaml"))]
    return [path for path in near if path.name != STUDY_FILE and not path.is_symlink()]


@st.cache_resource(max_entries=32, show_spinner=False)
def ruler(text: str, file: str, share: int, _shown: Forecast) -> tuple[str, str]:
    """The picture of that text as JSON, and its words."""
    spec = screen_spec(lambda: visit_chart(_shown.plan, _shown))
    return spec, visit_words(_shown.plan, _shown)


def draw_ahead(folder: Path) -> None:
    """The picture that the page opens with, before anybody asks for it."""
    for path in protocol_files(folder)[:1]:
        text = Draft(folder, path).text
        shown = ahead(text, path.name, SHARE)
        if shown is not None:
            ruler(text, path.name, SHARE, shown)
