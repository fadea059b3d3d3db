"""The bare address leads to a page that has one of its own: a reader to papers, others to the protocol."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from planner.pages.access import is_reader

FIRST = "documents.py" if is_reader() else "protocol.py"

st.switch_page(str(Path(__file__).with_name(FIRST)))
