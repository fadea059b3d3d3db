"""The bare address leads to the Protocol page, which has an address of its own like every page."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

st.switch_page(str(Path(__file__).with_name("protocol.py")))
