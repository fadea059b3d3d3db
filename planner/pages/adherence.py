"""Was the plan kept? Pictures first, counted from the recorded end of exercise."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

import streamlit as st

from planner.adherence.beside import beside
from planner.adherence.compare import compare
from planner.adherence.drift import drift
from planner.adherence.groups import (
    by_participant,
    by_person,
    by_rig,
    by_time_point,
    by_week,
    clustered,
)
from planner.adherence.learn import NOT_LEARNED, PRIOR_WEIGHT, lessons
from planner.adherence.log import write_log
from planner.adherence.methods import cluster_words, methods_paragraph
from planner.adherence.model import Adherence
from planner.adherence.scores import Forecasts, Scores, forecasts, scores
from planner.adherence.tables import assumed_and_learned, deviations_in_words, shares_in_words
from planner.adherence.timeline import timeline
from planner.adherence.words import note_lines, scores_words, summary_lines
from planner.documents.adherence_pictures import pictures
from planner.documents.adherence_report import report_pdf
from planner.documents.adherence_visit import visit_picture
from planner.documents.picture import Picture
from planner.documents.shown import visit_words
from planner.pages import access
from planner.pages.access import checked
from planner.pages.arrival import title
from planner.pages.common import files_mark, open_study, plan_in_force, recorded, study_folder
from planner.record.access import Right, Role
from planner.record.effort import Happened
from planner.record.store import open_recorded
from planner.schedule.model import Schedule
from planner.study.model import Study

STAFF = "adherence-staff"


@st.cache_resource(max_entries=4, show_spinner=False)
def _found(
    _study: Study, _schedule: Schedule | None, _happened: Happened, mark: object, by_person: bool
) -> Adherence:
    with open_recorded(_study) as store:
        known = beside(store, by_person=by_person)
    return compare(_study, _schedule, _happened, beside=known)


@st.cache_resource(max_entries=2, show_spinner=False)
def _scores(_study: Study, _schedule: Schedule | None, _happened: Happened, mark: object) -> Scores:
    return scores(_study, _happened, _schedule)


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
        "Picture",
        titles,
        format_func=lambda title: title.partition(" (")[0].partition(":")[0],
        default=titles[0],
        key="adherence-picture",
        label_visibility="collapsed",
        persist_state="session",
        required=True,
    )
    picture = drawn[titles.index(chosen or titles[0])]
    st.markdown(f"**{picture.title}**")
    _draw(picture)
    _in_words(picture)
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
            checked(Right.READ, make),
            f"{picture.name}.{suffix}",
            on_click="ignore",
            key=f"adherence-{picture.name}-{suffix}",
        )


def _in_words(picture: Picture) -> None:
    """How to read it stands below it; its numbers, a sentence each, are for eyes that cannot use it."""
    how, end, numbers = picture.words.partition(". ")
    st.write(f"{how}{end}".strip())
    if numbers:
        with st.expander("The picture in words"):
            st.write(numbers)


def _notes(found: Adherence) -> None:
    """What somebody should look at in the record, one click away; all of it."""
    if found.notes:
        with st.expander(f"To look at in the record: {len(found.notes)}"):
            st.markdown("\n".join(f"- {line}" for line in note_lines(found)))


def _visit(study: Study, schedule: Schedule | None, happened: Happened, found: Adherence) -> None:
    """One visit as planned against kept, on one line from the end of exercise; chosen by its number."""
    lines = [line for line in found.visits if line.happened]
    if not lines:
        return
    st.subheader("One visit, planned and kept")
    names = {
        n: f"{n}: {line.key.participant}, {visit_words(study, line.key.visit, line.key.number, None)}"
        for n, line in enumerate(lines, 1)
    }
    number = st.selectbox("Visit", list(names), format_func=names.__getitem__, key="adherence-visit")
    drawn = timeline(study, schedule, happened, found, lines[number - 1].key)
    if drawn is not None:
        shown = visit_picture(study, drawn)
        _draw(shown)
        _in_words(shown)


def _shares(study: Study, found: Adherence) -> None:
    """Shares by one thing at a time; by staff only where a coordinator turns it on."""
    by = {
        "time point": lambda found: by_time_point(found, study),
        "participant": by_participant,
        "device": by_rig,
        "week": by_week,
    }
    chosen = st.selectbox("Shares on time by", list(by), key="adherence-by", persist_state="session")
    st.dataframe(shares_in_words(by[chosen](found), chosen.capitalize()), hide_index=True)
    st.write(" ".join(filter(None, (f"{found.kept.words()}.", cluster_words(clustered(found))))))
    st.write(drift(found).words)
    with st.expander("More: shares by staff member"):
        st.write("This watches people at work. Local employment law applies; a coordinator decides.")
        if not _may_name_people():
            st.write("Only a coordinator can turn this on. Sign in as one, or ask one.")
        elif st.toggle(
            "Name people: shares by staff member, and measures that somebody else served", key=STAFF
        ):
            st.dataframe(shares_in_words(by_person(found, turned_on=True), "Staff member"), hide_index=True)


def _may_name_people() -> bool:
    """Whether the person at work may turn on what names people; where nobody signs in, whoever sits there."""
    person = access.gate(study_folder())
    return person is None or person.role is Role.COORDINATOR


def _deviations(found: Adherence) -> None:
    st.subheader("Deviations")
    table = deviations_in_words(found)
    if table.empty:
        st.write("None so far.")
        return
    st.dataframe(table, hide_index=True)
    with tempfile.TemporaryDirectory() as place:
        write_log(found, Path(place) / "deviations.csv")
        content = (Path(place) / "deviations.csv").read_bytes()
    st.download_button("Deviation log (CSV)", checked(Right.READ, content), "deviations.csv", "text/csv")


def _papers(study: Study, schedule: Schedule | None, found: Adherence, drawn: Sequence[Picture]) -> None:
    st.subheader("For the paper and the meeting")
    st.code(methods_paragraph(study, found), language=None, wrap_lines=True)
    st.download_button(
        "Report for the meeting (PDF)",
        checked(Right.READ, lambda: report_pdf(study, schedule, found, drawn)),
        "adherence.pdf",
        "application/pdf",
        on_click="ignore",
    )


def _taught(study: Study, schedule: Schedule | None, happened: Happened, key: object) -> None:
    """Assumed, seen and learned; and whether forecasts are better for it, on visits that taught nothing."""
    st.dataframe(assumed_and_learned(lessons(study, happened, schedule), study), hide_index=True)
    st.write(NOT_LEARNED)
    st.write(f"Learned values are drawn to the assumed ones, which weigh as {PRIOR_WEIGHT} observations.")
    if st.toggle("Were forecasts better after learning?", key="adherence-scores"):
        with st.spinner("Learning from the earlier half of the visits, forecasting the later half"):
            st.write(scores_words(_scores(study, schedule, happened, key)))


def page() -> None:
    """The page."""
    title("Was the plan kept?")
    study = open_study()
    schedule = plan_in_force(study)
    happened, mark = recorded(study)
    if happened.rehearsed:
        st.warning("**Dry run with made-up numbers.** Nothing below was measured.")
    if not happened.efforts and not happened.marks:
        st.info("Nothing is recorded yet. Efforts are entered on the Test day page, or taken in from a file.")
        return
    key = (files_mark(study.folder), mark)
    by_name = bool(st.session_state.get(STAFF)) and _may_name_people()
    found = _found(study, schedule, happened, key, by_name)
    headline, *counts = summary_lines(found)
    st.markdown(headline)
    with st.spinner("Drawing"):
        drawn = _pictures(study, found, _ahead(study, key), (key, by_name))
    _show(drawn)
    st.markdown("  \n".join(counts))
    _notes(found)
    _visit(study, schedule, happened, found)
    _shares(study, found)
    _deviations(found)
    _papers(study, schedule, found, drawn)
    with st.expander("More: what the record has taught"):
        _taught(study, schedule, happened, key)


page()
