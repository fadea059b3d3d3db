"""Was the plan kept? Pictures first, counted from the recorded end of exercise."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import streamlit as st

from planner.adherence.compare import compare
from planner.adherence.drift import drift
from planner.adherence.groups import (
    CLUSTER_WORDS,
    by_participant,
    by_person,
    by_rig,
    by_time_point,
    by_week,
    clustered,
)
from planner.adherence.learn import lessons
from planner.adherence.log import write_log
from planner.adherence.methods import cluster_words, methods_paragraph
from planner.adherence.model import Adherence
from planner.adherence.scores import Forecasts, forecasts
from planner.adherence.tables import deviations_table, groups_table, lessons_table
from planner.adherence.timeline import timeline
from planner.documents.adherence_pictures import pictures
from planner.documents.adherence_report import report_pdf
from planner.documents.adherence_visit import visit_picture
from planner.documents.picture import Picture
from planner.pages.common import files_mark, open_study, plan_in_force, recorded
from planner.record.effort import Happened
from planner.schedule.model import Schedule
from planner.study.model import Study


@st.cache_resource(max_entries=4, show_spinner=False)
def _found(_study: Study, _schedule: Schedule | None, _happened: Happened, mark: object) -> Adherence:
    return compare(_study, _schedule, _happened)


@st.cache_resource(max_entries=4, show_spinner=False)
def _ahead(_study: Study, mark: object) -> Forecasts:
    return forecasts(_study)


@st.cache_resource(max_entries=4, show_spinner=False)
def _pictures(_study: Study, _found: Adherence, _ahead: Forecasts, mark: object) -> tuple[Picture, ...]:
    return pictures(_study, _found, _ahead)


def _draw(picture: Picture) -> None:
    """The picture; its marks have no names of their own, since the words below it say what they show."""
    config = dict(picture.spec.get("config", {}))
    config |= {"aria": False, "mark": {**config.get("mark", {}), "aria": False}}
    st.vega_lite_chart({**picture.spec, "config": config}, theme=None)


def _show(drawn: Sequence[Picture]) -> None:
    """One picture large, the others one choice away; each with its words and its files."""
    titles = [picture.title for picture in drawn]
    chosen = st.segmented_control(
        "Picture", titles, default=titles[0], key="adherence-picture", label_visibility="collapsed"
    )
    picture = drawn[titles.index(chosen or titles[0])]
    _draw(picture)
    st.write(picture.words)
    kinds: tuple[tuple[str, Callable[[], str | bytes]], ...] = (
        ("SVG", picture.svg),
        ("PNG", picture.png),
        ("PDF", picture.pdf),
        ("data (CSV)", picture.data),
    )
    for column, (kind, make) in zip(st.columns(4), kinds, strict=True):
        suffix = "csv" if kind.startswith("data") else kind.lower()
        column.download_button(
            kind,
            make,
            f"{picture.name}.{suffix}",
            on_click="ignore",
            key=f"adherence-{picture.name}-{suffix}",
        )


def _visit(study: Study, schedule: Schedule | None, happened: Happened, found: Adherence) -> None:
    """One visit as planned against kept, on one line from the end of exercise; chosen by its number."""
    lines = [line for line in found.visits if line.happened]
    if not lines:
        return
    st.subheader("One visit, planned and kept")
    names = {
        n: f"{n}: {line.key.participant}, {found.visit_name(line.key, None)}"
        for n, line in enumerate(lines, 1)
    }
    number = st.selectbox("Visit", list(names), format_func=names.__getitem__, key="adherence-visit")
    drawn = timeline(study, schedule, happened, found, lines[number - 1].key)
    if drawn is not None:
        shown = visit_picture(study, drawn)
        _draw(shown)
        st.write(shown.words)


def _shares(found: Adherence) -> None:
    """Shares by one thing at a time; by staff only where a coordinator turns it on."""
    by = {"time point": by_time_point, "participant": by_participant, "device": by_rig, "week": by_week}
    chosen = st.selectbox("Shares on time by", list(by), key="adherence-by", persist_state="session")
    st.dataframe(groups_table(by[chosen](found)), hide_index=True)
    st.write(f"{found.kept.words()}{cluster_words(clustered(found))}. {CLUSTER_WORDS}")
    st.write(drift(found).words)
    with st.expander("More: shares by staff member"):
        st.write("This watches people at work. Local employment law applies; a coordinator decides.")
        if st.toggle("Show shares by staff member", key="adherence-staff"):
            st.dataframe(groups_table(by_person(found, turned_on=True)), hide_index=True)


def _deviations(found: Adherence) -> None:
    st.subheader("Deviations")
    table = deviations_table(found)
    if table.empty:
        st.write("None so far.")
        return
    st.dataframe(table, hide_index=True)
    with tempfile.TemporaryDirectory() as place:
        write_log(found, Path(place) / "deviations.csv")
        content = (Path(place) / "deviations.csv").read_bytes()
    st.download_button("Deviation log (CSV)", content, "deviations.csv", "text/csv")


def _papers(study: Study, schedule: Schedule | None, found: Adherence, drawn: Sequence[Picture]) -> None:
    st.subheader("For the paper and the meeting")
    st.code(methods_paragraph(study, found), language=None, wrap_lines=True)
    st.download_button(
        "One-page report (PDF)",
        lambda: report_pdf(study, schedule, found, drawn),
        "adherence.pdf",
        "application/pdf",
        on_click="ignore",
    )


def page() -> None:
    """The page."""
    st.title("Was the plan kept?")
    study = open_study()
    schedule = plan_in_force(study)
    happened, mark = recorded(study)
    if happened.rehearsed:
        st.warning("**Dry run with made-up numbers.** Nothing below was measured.")
    if not happened.efforts and not happened.marks:
        st.info("Nothing is recorded yet. Efforts are entered on the Test day page, or taken in from a file.")
        return
    key = (files_mark(study.folder), mark)
    found = _found(study, schedule, happened, key)
    st.markdown("  \n".join(found.words().splitlines()))
    with st.spinner("Drawing"):
        drawn = _pictures(study, found, _ahead(study, key), key)
    _show(drawn)
    _visit(study, schedule, happened, found)
    _shares(found)
    _deviations(found)
    _papers(study, schedule, found, drawn)
    with st.expander("More: what the record has taught"):
        st.dataframe(lessons_table(lessons(study, happened, schedule)), hide_index=True)


page()
