"""What a protocol assumes against what the record has taught, with the number of efforts behind it."""

from __future__ import annotations

import streamlit as st

from planner.adherence.learn import NOT_LEARNED, Lesson, lessons
from planner.adherence.tables import assumed_and_learned
from planner.pages.common import files_mark, plan_in_force, recorded, study_if_whole
from planner.protocol.model import Protocol
from planner.record.effort import Happened
from planner.schedule.model import Schedule
from planner.study.model import Study


@st.cache_resource(max_entries=4, show_spinner=False)
def _lessons(
    _study: Study, _schedule: Schedule | None, _happened: Happened, mark: object
) -> tuple[Lesson, ...]:
    return lessons(_study, _happened, _schedule)


def learned(protocol: Protocol) -> None:
    """A row for each length and spread of this protocol that the record tells of."""
    study = study_if_whole()
    if study is None:
        st.write("Mend the mistakes in the study's files first; then the record can be read.")
        return
    happened, mark = recorded(study)
    schedule = plan_in_force(study)
    found = [
        one
        for one in _lessons(study, schedule, happened, (files_mark(study.folder), mark))
        if one.protocol == protocol.name
    ]
    if not found:
        st.write("Nothing is recorded of this protocol yet, so everything stays as assumed.")
        return
    if happened.rehearsed:
        st.write("From a dry run with made-up numbers.")
    st.dataframe(assumed_and_learned(found, study), hide_index=True)
    st.write(NOT_LEARNED)
    st.write("A schedule uses the learned values when it is made with `testday pack STUDY --learned`.")
