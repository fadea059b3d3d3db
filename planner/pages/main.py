"""The app: which pages there are. Each is a file of its own, run as a script; `app.py` only calls `run`."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.pages.access import gate, refuse_open_network, say_reading
from planner.pages.common import footer, study_folder, study_mark
from planner.pages.fetched import fetch_ahead

HERE = Path(__file__).parent
PAGES = (
    ("protocol.py", "Protocol"),
    ("study.py", "Study"),
    ("schedule.py", "Schedule"),
    ("documents.py", "Documents"),
    ("day.py", "Test day"),
    ("adherence.py", "Adherence"),
    ("numbers.py", "What the numbers mean"),
)


def run() -> None:
    """Show the page that the address names, between what every page shares."""
    st.set_page_config(page_title="Test days", layout="wide")
    start = st.Page(str(HERE / "start.py"), title="Test days", default=True, visibility="hidden")
    pages = [
        start,
        *(st.Page(str(HERE / file), title=title, url_path=Path(file).stem) for file, title in PAGES),
    ]
    chosen = st.navigation(pages, position="top")
    refuse_open_network()
    gate(study_folder())
    study_mark()
    say_reading(chosen.url_path)
    chosen.run()
    footer()
    fetch_ahead()


if __name__ == "__main__":
    run()
