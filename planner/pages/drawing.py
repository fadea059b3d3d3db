"""Pictures on pages: drawn once for what they show, shared by all sessions; each with the words it needs."""

from __future__ import annotations

import json

import streamlit as st

from planner.pages.common import files_mark
from planner.schedule.model import Schedule
from planner.study.model import Study

Mark = tuple[object, ...]


def plan_mark(study: Study, schedule: Schedule) -> Mark:
    """Changes with the plan and with the study's files."""
    of_plan = schedule.version, schedule.made.isoformat(), schedule.placed, schedule.fingerprint
    return files_mark(study.folder), *of_plan


def draw(spec: str, words: str) -> None:
    """The picture of that JSON, black on white also in the dark, its words for who cannot see it."""
    st.vega_lite_chart(json.loads(spec), width="stretch", theme=None, alt=words)
