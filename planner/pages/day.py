"""What now? The test day at the device."""

from __future__ import annotations

import streamlit as st

from planner.pages.common import open_study

st.title("What now?")
open_study()
